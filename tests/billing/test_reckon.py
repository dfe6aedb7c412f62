"""The documents of ``totals`` and ``split``: taken exactly, refused with a pointer."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from billing.reckon import RECKONINGS
from practice.reckoning import BadDocument, answer, read

SPLIT = {"currency": "GBP", "amount": "45.00", "weights": {"a": 3, "b": "2.5"}}
TOTALS = {
    "currency": "GBP",
    "lines": [{"net": "10.00", "category": "S", "rate": "20"}],
}


def run(what, document):
    text = document if isinstance(document, str) else json.dumps(document)
    return answer(RECKONINGS[what], read(text.encode()))


def pointer_of(what, document):
    with pytest.raises(BadDocument) as refused:
        run(what, document)
    assert "\n" not in refused.value.line
    return refused.value.pointer


@pytest.mark.parametrize("what", ["totals", "split"])
def test_the_schemas_are_schemas_and_the_answers_fit_them(what):
    reckoning = RECKONINGS[what]
    for schema in (reckoning.schema_in, reckoning.schema_out):
        Draft202012Validator.check_schema(schema)
        assert schema["$schema"].endswith("2020-12/schema")
    found = run(what, {"totals": TOTALS, "split": SPLIT}[what])
    Draft202012Validator(reckoning.schema_out).validate(found)


def test_a_split_answers_each_key():
    assert run("split", SPLIT)["shares"] == {"a": "24.55", "b": "20.45"}


def test_a_yen_has_no_decimals():
    document = {"currency": "JPY", "amount": "100", "weights": {"a": 1, "b": 2}}
    assert run("split", document)["shares"] == {"a": "33", "b": "67"}


def test_totals_answer_every_key_even_without_the_optional_ones():
    found = run("totals", TOTALS)
    assert found["tax_groups"] == [
        {"category": "S", "rate": 20, "basis": "10.00", "tax": "2.00"}
    ]
    assert {key: value for key, value in found.items() if isinstance(value, str)} == {
        "line_total": "10.00",
        "allowance_total": "0.00",
        "charge_total": "0.00",
        "tax_basis": "10.00",
        "tax": "2.00",
        "total": "12.00",
        "prepaid": "0.00",
        "rounding": "0.00",
        "due": "12.00",
    }
    assert "EN 16931" in found["versions"]["rules"]


def test_rates_are_one_group_however_they_are_written():
    lines = [
        f'{{"net":"1.00","category":"S","rate":{rate}}}'
        for rate in ("20", '"20"', "20.0", '"20.00"', "2e1")
    ]
    found = run("totals", f'{{"currency":"GBP","lines":[{",".join(lines)}]}}')
    assert [group["basis"] for group in found["tax_groups"]] == ["5.00"]


@pytest.mark.parametrize("rate", [{}, {"rate": None}])
def test_category_o_has_no_rate(rate):
    document = TOTALS | {"lines": [{"net": "-5.00", "category": "O"} | rate]}
    (group,) = run("totals", document)["tax_groups"]
    assert group == {"category": "O", "rate": None, "basis": "-5.00", "tax": "0.00"}


def test_a_float_weight_is_taken_exactly_as_written():
    """0.1 + 0.2 against 0.3: as binary floats they would differ, and so the odd cent
    would go to the wrong one."""
    text = '{"currency":"GBP","amount":"0.01","weights":{"a":0.3,"b":"0.3"}}'
    assert run("split", text)["shares"] == {"a": "0.01", "b": "0.00"}
    text = (
        '{"currency":"GBP","amount":"0.01","weights":'
        '{"a":0.30000000000000000001,"b":0.30000000000000000002}}'
    )
    assert run("split", text)["shares"] == {"a": "0.00", "b": "0.01"}


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"amount": "1.005"}, "/amount"),
        ({"amount": 45}, "/amount"),
        ({"amount": "1e2"}, "/amount"),
        ({"amount": "9" * 30}, "/amount"),
        ({"amount": "1\n"}, "/amount"),
        ({"currency": "XXX"}, "/currency"),
        ({"currency": "pound"}, "/currency"),
        ({"weights": {}}, "/weights"),
        ({"weights": {"a": 0, "b": "0.0"}}, "/weights"),
        ({"weights": {"a": 1, "b": -1}}, "/weights/b"),
        ({"weights": {"a": 1, "b/c~d": "-2"}}, "/weights/b~1c~0d"),
        ({"weights": {"a": True}}, "/weights/a"),
        ({"weights": {"a": "NaN"}}, "/weights/a"),
        ({"weights": {"a": None}}, "/weights/a"),
        ({"weights": {"a": "9" * 39}}, "/weights/a"),
        ({"weights": [1, 2]}, "/weights"),
        ({"more": 1}, "/more"),
    ],
)
def test_a_split_with_something_wrong_is_pointed_at(change, pointer):
    assert pointer_of("split", SPLIT | change) == pointer


@pytest.mark.parametrize(
    ("line", "pointer"),
    [
        ({"net": "1.005", "category": "S", "rate": 20}, "/lines/0/net"),
        ({"net": 1, "category": "S", "rate": 20}, "/lines/0/net"),
        ({"net": "1", "category": "Q", "rate": 20}, "/lines/0/category"),
        ({"net": "1", "category": "S"}, "/lines/0/rate"),
        ({"net": "1", "category": "S", "rate": 0}, "/lines/0/rate"),
        ({"net": "1", "category": "S", "rate": -20}, "/lines/0/rate"),
        ({"net": "1", "category": "S", "rate": "twenty"}, "/lines/0/rate"),
        ({"net": "1", "category": "E", "rate": 20}, "/lines/0/rate"),
        ({"net": "1", "category": "O", "rate": 20}, "/lines/0/rate"),
        ({"category": "S", "rate": 20}, "/lines/0/net"),
        ({"net": "1", "category": "S", "rate": 20, "tax": 1}, "/lines/0/tax"),
    ],
)
def test_totals_with_something_wrong_in_a_line_are_pointed_at(line, pointer):
    assert pointer_of("totals", TOTALS | {"lines": [line]}) == pointer


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"lines": []}, "/lines"),
        ({"prepaid": "0.001"}, "/prepaid"),
        ({"rounding": 0}, "/rounding"),
        ({"charges": [{"net": "1", "category": "Z", "rate": 0}]}, "/charges/0/amount"),
        ({"allowances": {}}, "/allowances"),
    ],
)
def test_totals_with_something_wrong_elsewhere_are_pointed_at(change, pointer):
    assert pointer_of("totals", TOTALS | change) == pointer


@pytest.mark.parametrize("key", ["currency", "lines"])
def test_a_missing_key_is_pointed_at(key):
    assert pointer_of("totals", {k: v for k, v in TOTALS.items() if k != key}) == (
        f"/{key}"
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        '"text"',
        '{"currency":"GBP","amount":"1","weights":{"a":NaN}}',
        '{"currency":"GBP","amount":"1","weights":{"a":Infinity}}',
        '{"currency":"GBP","amount":"1","weights":{"a":1e999}}',
        '{"currency":"GBP","amount":"1","weights":{"a":' + "9" * 5000 + "}}",
        "[" * 100_000,
    ],
)
def test_what_is_no_document_is_refused_as_a_whole(text):
    assert pointer_of("split", text) == ""


def test_a_tiny_number_is_no_weight():
    text = '{"currency":"GBP","amount":"1","weights":{"a":1e-300}}'
    assert pointer_of("split", text) == "/weights/a"


def test_a_key_that_stands_twice_is_refused():
    text = '{"currency":"GBP","amount":"1","amount":"2","weights":{"a":1}}'
    assert pointer_of("split", text) == "/amount"


def test_a_document_over_a_megabyte_is_refused():
    assert pointer_of("split", " " * 1_000_001) == ""


def test_the_largest_document_adds_up():
    weights = {f"h{number}": number for number in range(1, 5001)}
    document = {"currency": "GBP", "amount": "999999999999.99", "weights": weights}
    found = run("split", document)["shares"]
    assert sum(map(Decimal, found.values())) == Decimal("999999999999.99")


# ---- Corners, and the same reckoned another way ---------------------------------------
def totals_in(currency, *lines, **more):
    said = [
        dict(zip(("net", "category", "rate"), line, strict=False)) for line in lines
    ]
    return run("totals", {"currency": currency, "lines": said, **more})


@pytest.mark.parametrize(
    ("currency", "net", "rate", "tax"),
    [
        ("EUR", "-6491.34", "25", "-1622.84"),  # CEN's own vector (BR-CO-17)
        ("GBP", "0.30", "2.5", "0.01"),  # 0.0075
        ("GBP", "0.20", "2.5", "0.01"),  # half a penny, up
        ("GBP", "-0.20", "2.5", "-0.01"),  # half a penny, away from zero
        ("GBP", "0.19", "2.5", "0.00"),
        ("JPY", "5", "10", "1"),
        ("JPY", "-5", "10", "-1"),
        ("JPY", "4", "10", "0"),
        ("KWD", "0.010", "5", "0.001"),  # half a fils
        ("KWD", "1.234", "7.5", "0.093"),  # 0.09255
        ("EUR", "999999999999999.99", "33.333333", "333333330000000.00"),
        ("EUR", "100.00", "14.975", "14.98"),
        ("EUR", "100.00", "0.000000000000000001", "0.00"),
    ],
)
def test_half_a_unit_goes_away_from_zero_in_every_currency(currency, net, rate, tax):
    assert totals_in(currency, (net, "S", rate))["tax"] == tax


def test_a_group_is_rounded_once_across_lines_allowances_and_charges():
    found = totals_in(
        *("GBP", ("0.33", "S", "20"), ("0.33", "S", "20.00"), ("5.00", "Z", 0)),
        allowances=[{"amount": "0.11", "category": "S", "rate": 2e1}],
        charges=[{"amount": "0.02", "category": "S", "rate": "20.0"}],
        prepaid="1.00",
        rounding="-0.01",
    )
    assert found["tax_groups"] == [
        {"category": "S", "rate": 20, "basis": "0.57", "tax": "0.11"},
        {"category": "Z", "rate": 0, "basis": "5.00", "tax": "0.00"},
    ]
    assert (found["total"], found["due"]) == ("5.68", "4.67")


def test_a_group_that_only_an_allowance_has_is_there_with_a_negative_basis():
    found = totals_in(
        *("EUR", ("10.00", "S", 19)),
        allowances=[{"amount": "2.00", "category": "S", "rate": 7}],
    )
    assert found["tax_groups"][1] == {
        "category": "S", "rate": 7, "basis": "-2.00", "tax": "-0.14",
    }  # fmt: skip
    assert found["due"] == "9.76"


def test_rates_that_differ_far_behind_the_point_are_two_groups():
    found = totals_in(
        *("EUR", ("1.00", "S", "20." + "0" * 30 + "1"), ("1.00", "S", "20"))
    )
    assert len(found["tax_groups"]) == 2


AMOUNTS = st.integers(-(10**9), 10**9)
PARTS = st.tuples(
    AMOUNTS,
    st.sampled_from(
        ["S:20", "S:5.5", "S:0.125", "Z:0", "E:0", "AE:0", "O:", "L:7", "M:0"]
    ),
)


@given(
    st.lists(PARTS, min_size=1, max_size=9),
    st.lists(PARTS, max_size=4),
    st.lists(PARTS, max_size=4),
    AMOUNTS,
    st.sampled_from([("JPY", 0), ("GBP", 2), ("KWD", 3)]),
)
def test_totals_are_those_of_whole_minor_units(
    lines, allowances, charges, prepaid, money
):
    """The same by integers alone: minor units, rates as thousandths of a per cent."""
    currency, decimals = money

    def shown(units):
        text = str(abs(units)).rjust(decimals + 1, "0")
        point = f"{text[:-decimals]}.{text[-decimals:]}" if decimals else text
        return ("-" if units < 0 else "") + point

    def told(parts, key):
        for units, kind in parts:
            category, _, rate = kind.partition(":")
            yield {key: shown(units), "category": category} | (
                {"rate": rate} if rate else {}
            )

    bases = {}
    for sign, parts in ((1, lines), (-1, allowances), (1, charges)):
        for units, kind in parts:
            bases[kind] = bases.get(kind, 0) + sign * units
    tax = 0
    for kind, basis in bases.items():
        thousandths = int(Decimal(kind.partition(":")[2] or "0") * 1000)
        whole, left = divmod(abs(basis) * thousandths, 100_000)
        tax += (1 if basis >= 0 else -1) * (whole + (2 * left >= 100_000))
    found = run(
        "totals",
        {
            "currency": currency,
            "lines": list(told(lines, "net")),
            "allowances": list(told(allowances, "amount")),
            "charges": list(told(charges, "amount")),
            "prepaid": shown(prepaid),
        },
    )
    assert found["tax"] == shown(tax)
    assert found["due"] == shown(sum(bases.values()) + tax - prepaid)
    assert len(found["tax_groups"]) == len(bases)
