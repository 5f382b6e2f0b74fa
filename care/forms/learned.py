"""Which learned minutes? The choice stands in the address."""

from typing import Any, cast

from django import forms

from care.models import Activity
from care.overviews.learned import STAGE_WORDS
from care.overviews.own_jobs import SCRUBBING
from nursery.foliage import Foliage
from nursery.forms.fields import PlainForm
from nursery.models.trees import FOLIAGE


class MinutesFilter(PlainForm):
    """The kind of work; of scrubbing the round and the foliage. What cannot be read is as if it were left alone."""

    work = forms.ModelChoiceField(Activity.objects.none(), label="Work", required=False, empty_label=None)
    stage = forms.ChoiceField(
        label="Round of scrubbing",
        choices=[(str(stage), words) for stage, words in STAGE_WORDS.items()],
        required=False,
    )
    foliage = forms.ChoiceField(label="Foliage", choices=[("", "any foliage"), *FOLIAGE], required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast(forms.ModelChoiceField, self.fields["work"]).queryset = Activity.objects.all()
        self.is_valid()

    @property
    def asked_work(self) -> Activity | None:
        """The kind of work asked for; scrubbing at first."""
        asked: Activity | None = self.cleaned_data.get("work")
        return asked or Activity.objects.filter(code=SCRUBBING).first() or Activity.objects.first()

    @property
    def asked_stage(self) -> int:
        return int(self.cleaned_data.get("stage") or 1)

    @property
    def asked_foliage(self) -> Foliage:
        return Foliage(self.cleaned_data.get("foliage") or "")
