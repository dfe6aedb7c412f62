"""Kinds of work with their minutes."""

from django import forms

from horses.models import Work


class WorkForm(forms.Form):
    """A kind of work, to add or to change."""

    name = forms.CharField(max_length=80)
    kind = forms.ChoiceField(choices=Work.Kind.choices)
    minutes = forms.IntegerField(min_value=0, max_value=480, help_text="for one horse")
    is_active = forms.BooleanField(
        label="Still done", required=False, help_text="untick to keep it out of choices"
    )


class NewWorkForm(WorkForm):
    """A kind of work to add."""

    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # passed through
        del self.fields["is_active"]
