"""UUID version 7, RFC 9562."""

from practice.keys import uuid7


def test_version_and_variant_are_as_the_rfc_says():
    # RFC 9562, section 5.7: version 0b0111, variant 0b10.
    key = uuid7()
    assert key.version == 7
    assert key.variant == "specified in RFC 4122"


def test_the_milliseconds_of_the_rfcs_example_stand_first(monkeypatch):
    # RFC 9562, appendix A.6: 2022-02-22 14:22:22.00 GMT-05:00 is 0x017F22E279B0.
    monkeypatch.setattr("time.time_ns", lambda: 0x017F22E279B0 * 1_000_000)
    assert str(uuid7()).startswith("017f22e2-79b0-7")


def test_keys_differ():
    assert len({uuid7() for _ in range(1000)}) == 1000
