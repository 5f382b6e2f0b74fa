import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django import forms
from django.template import Context, Template
from django.utils import timezone

from nursery.marks import MARKS

HARD = "\N{NO-BREAK SPACE}"


def printed(source: str, **context: object) -> str:
    return Template("{% load heelin %}" + source).render(Context(context)).strip()


class Bring(forms.Form):
    litres = forms.CharField(label="Litres mixed", help_text="As measured.")
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea)
    pets = forms.BooleanField(label="Pets at home", required=False)
    means = forms.MultipleChoiceField(
        label="Means", choices=[("brush", "brush")], widget=forms.CheckboxSelectMultiple
    )


def test_an_instant_is_shown_on_the_nursery_s_wall_clock():
    # 23:30 UTC is 00:30 of the next day in Dublin in summer.
    at = dt.datetime(2026, 6, 2, 23, 30, tzinfo=dt.UTC)
    with timezone.override("Europe/Dublin"):
        assert printed("{{ at|day }} {{ at|clock_time }}", at=at) == "Wed 3 June 2026 00:30"
        assert printed("{{ at|moment }}", at=at) == "Wed 3 June 2026, 00:30"


def test_frozen_words_hold_days_as_text():
    assert printed('{{ "2026-06-03"|day }}, {{ "14:05"|clock_time }}') == "Wed 3 June 2026, 14:05"
    with timezone.override("Europe/Dublin"):
        assert printed('{{ "2026-06-03T12:00:00+00:00"|moment }}') == "Wed 3 June 2026, 13:00"


@pytest.mark.parametrize(
    "word", ["day", "short_day", "clock_time", "moment", "money", "cash", "quantity", "minutes"]
)
def test_nothing_is_printed_as_nothing(word):
    assert printed(f"{{{{ nothing|{word} }}}}", nothing=None) == ""


def test_money_and_quantities():
    assert printed("{{ due|money }}", due=Decimal("272.57")) == "€272.57"
    assert printed('{{ due|money:"CHF" }}', due="272.57") == f"CHF{HARD}272.57"
    assert printed('{{ n|quantity:"min" }}', n=Decimal("97.00")) == f"97{HARD}min"
    assert printed('{{ n|quantity:"night" }}', n=1) == f"1{HARD}night"
    assert printed("{{ 97|minutes }}") == f"1{HARD}h{HARD}37{HARD}min"


# International Code of Nomenclature: names of genus and species are set in italics, cultivar names upright in
# single quotes (International Code of Nomenclature for Cultivated Plants, Art. 14; from memory).
def test_a_botanical_name_is_italic_and_safe():
    runs = [("Pinus mugo", True), (" ‘Mops’", False), ("<script>", False)]
    assert printed("{{ runs|botanical }}", runs=runs) == (
        '<em class="botanical">Pinus mugo</em> ‘Mops’&lt;script&gt;'
    )


def test_the_hidden_identifier_is_fresh_each_time():
    first, second = (re.search('name="once" value="([^"]+)"', printed("{% once %}")) for _ in range(2))
    assert first is not None
    assert second is not None
    assert uuid.UUID(first[1]).version == 4
    assert first[1] != second[1]


def test_a_field_keeps_what_was_typed_and_ties_its_error_to_it():
    form = Bring({"litres": "1,250 <b>"})
    form.add_error("litres", "This can be read in two ways.")
    html = printed("{% field form.litres %}", form=form)
    assert 'value="1,250 &lt;b&gt;"' in html
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_litres_helptext id_litres_error"' in html
    assert '<p class="help" id="id_litres_helptext">As measured.</p>' in html
    assert '<p class="error" id="id_litres_error">This can be read in two ways.</p>' in html
    assert html.index("<label") < html.index("As measured.") < html.index("<input")


def test_what_may_stay_empty_says_so():
    assert "(may stay empty)" in printed("{% field form.note %}", form=Bring())
    assert "(may stay empty)" not in printed("{% field form.litres %}", form=Bring())


def test_ticks_and_choices_are_named():
    assert re.search(
        r'<label for="id_pets"><input type="checkbox"[^>]*>\s*<span>Pets',
        printed("{% field form.pets %}", form=Bring()),
    )
    html = printed("{% field form.means %}", form=Bring({}))
    assert "<legend>Means</legend>" in html
    assert 'aria-describedby="id_means_error"' in html


def test_a_whole_form_says_that_nothing_was_written():
    html = printed("{{ form }}", form=Bring({}))
    assert "Not written down yet." in html
    assert html.count('class="error"') == 2


@pytest.mark.parametrize(
    ("standing", "word", "title"),
    [
        ("not_examined", "not examined", "hatched twig"),
        ("clean", "none seen", "bare twig"),
        ("suspect", "suspect", "twig with one hollow hump"),
        ("infested", "live seen", "twig with filled humps"),
        ("under_treatment", "under treatment", "twig with filled humps crossed by a brush stroke"),
        ("observed", "being watched", "twig under a lens"),
        ("notifiable", "notifiable suspected", "twig under a seal"),
    ],
)
def test_a_standing_is_a_twig_a_word_and_a_dated_reason(standing, word, title):
    html = printed(
        '{% mark standing day "9 alive on 60 twigs" %}', standing=standing, day=dt.date(2026, 6, 3)
    )
    assert f"<title>{title}</title>" in html
    assert f"<b>{word}</b>" in html
    assert "9 alive on 60 twigs, Wed 3 June 2026" in html


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("None seen alive on 40 twigs on 3 June", "None seen alive on 40 twigs on Wed 3 June 2026</span>"),
        ("seen on 13 June", "seen on 13 June, Wed 3 June 2026</span>"),
        ("since 3 June 2025", "since 3 June 2025, Wed 3 June 2026</span>"),
    ],
)
def test_a_reason_that_names_the_day_is_printed_with_it_once(reason, said):
    assert said in printed("{% mark 'clean' day reason %}", day=dt.date(2026, 6, 3), reason=reason)


def test_each_standing_has_a_mark_of_its_own():
    assert len(MARKS) == 7
    assert len({mark.drawing for mark in MARKS.values()}) == 7


def test_a_standing_nobody_drew_is_a_programming_error():
    with pytest.raises(KeyError):
        printed('{% mark "purple" %}')
