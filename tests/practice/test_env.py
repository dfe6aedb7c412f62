"""Settings from the environment."""

import pytest

from practice.env import BadSetting, Environment


def test_a_variable_that_is_not_set_has_its_default():
    assert Environment({}).text("DATA") == "data"
    assert Environment({}).flag("DEBUG") is False


def test_a_secret_may_come_from_a_file(tmp_path):
    file = tmp_path / "key"
    file.write_text("hush\n")
    env = Environment({"CLENCHLINE_SECRET_KEY_FILE": str(file)})
    assert env.text("SECRET_KEY") == "hush"


def test_a_secret_file_that_is_missing_fails_loudly(tmp_path):
    env = Environment({"CLENCHLINE_SECRET_KEY_FILE": str(tmp_path / "none")})
    with pytest.raises(BadSetting, match="CLENCHLINE_SECRET_KEY_FILE names"):
        env.text("SECRET_KEY")


def test_nonsense_names_the_variable_and_the_mend():
    env = Environment({"CLENCHLINE_DEBUG": "maybe", "CLENCHLINE_EMAIL_PORT": "smtp"})
    with pytest.raises(
        BadSetting, match="CLENCHLINE_DEBUG is 'maybe': write yes or no"
    ):
        env.flag("DEBUG")
    with pytest.raises(BadSetting, match=r"CLENCHLINE_EMAIL_PORT.*whole number"):
        env.number("EMAIL_PORT")


def test_a_list_is_split_at_commas():
    env = Environment({"CLENCHLINE_ALLOWED_HOSTS": "a.example, b.example ,"})
    assert env.items("ALLOWED_HOSTS") == ["a.example", "b.example"]
