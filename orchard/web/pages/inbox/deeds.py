"""Deeds that a phone brings: their forms, read as their own pages read them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.forms import Form
from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Closure, Tree
from orchard.science.words import PracticeLevel, TreatmentKind
from orchard.services import inbox, observations, permissions, ripeness, treatments
from orchard.services.errors import NotThere, Refused
from orchard.services.fruit import read_test
from orchard.services.inbox import Admission, EntryKind, ParsedDeed
from orchard.services.permissions import Deed
from orchard.web.pages.harvests import PickForm, ShareForm, picked_text
from orchard.web.pages.inspections import read_answer
from orchard.web.pages.observations import (
    GroupStageForm,
    HappeningForm,
    StageForm,
    seen_on_whom,
)
from orchard.web.pages.practice import PracticeAnswerForm
from orchard.web.pages.ripeness import RipenessForm, test_text
from orchard.web.pages.tasks import DoneForm, SkipForm, undo_of_closing, way_back
from orchard.web.pages.treatments import (
    DryForm,
    ProductForm,
    TreatmentForm,
    WetSpellForm,
    amount_forms,
    amounts_in,
)
from orchard.web.pages.water import WateringForm, trees_watered


@dataclass(frozen=True, slots=True)
class BroughtDeed:
    """A deed ready to be carried out, what is said of it, and where its page is.

    Without a text nothing is said: its own page did already.
    """

    carry_out: ParsedDeed
    text: str
    url: str
    undo_url: str = ""
    # What only its row can tell, by the number of the row.
    text_of: Callable[[int], str] | None = None


def read_deed(admission: Admission, now: datetime) -> BroughtDeed:
    """Read the form of an entry as the deed that it brings.

    Raises:
        Refused (not_there, may_not): what it is about is not there for this person.
        Refused (bad_form): the form cannot be what it is; the message tells all faults.
    """
    zone = ZoneInfo(admission.orchard.time_zone)
    today = now.astimezone(zone).date()
    # A day that the form took from a wrong clock is the day that it really was.
    phone_day = admission.entry.made_at.astimezone(zone).date().isoformat()
    true_day = admission.made_at(now).astimezone(zone).date().isoformat()
    post = QueryDict(mutable=True)
    for name, value in admission.entry.form:
        is_day = name.endswith("_on") and value == phone_day
        post.appendlist(name, true_day if is_day else value)
    try:
        return READERS[admission.entry.kind](admission, post, today, now)
    except NotThere:
        raise Refused(
            _("What this is about isn't here, or you may not see it."),
            code="not_there",
        ) from None


def _closure(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    task = permissions.task_for(admission.member, admission.entry.task or 0)
    skips = post.get("how") == Closure.How.SKIPPED
    form: Form = SkipForm.for_task(post)
    if not skips:
        _check_units(admission, post)
        form = DoneForm.for_task(task, today=today, now=now, data=post)
    ending = _cleaned(form)
    # It comes as an entry of its own.
    ending.pop("photo", None)
    if skips:
        ending["how"] = Closure.How.SKIPPED
    back, at = post.get("back", ""), post.get("at", "")
    return BroughtDeed(
        partial(inbox.close_task, task, today=today, **ending),
        _("%(title)s, %(place)s: closed.")
        % {
            "title": task.title,
            "place": task.tree.code if task.tree else admission.orchard.name,
        },
        way_back(task, back, at),
        undo_of_closing(task, back, at),
    )


def _taking(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    task = permissions.task_for(admission.member, admission.entry.task or 0)
    gives = post.get("give") == "back"
    text = _("%(title)s is free again.") if gives else _("You have it now: %(title)s.")
    url = reverse("task-taking", args=[admission.orchard.slug, task.pk])
    return BroughtDeed(
        partial(inbox.take_task, task, gives=gives),
        text % {"title": task.title},
        way_back(task, post.get("back", ""), post.get("at", "")),
        url if gives else f"{url}?give=back",
    )


def _event(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    tree = _tree_of(admission)
    form = HappeningForm.new(
        today=today,
        whole_orchard=tree is None,
        units=admission.orchard.units,
        data=post,
    )
    return BroughtDeed(
        partial(
            inbox.note_event,
            admission.orchard,
            tree=tree,
            **_cleaned(form),
        ),
        _("It is noted."),
        _page_of(admission, tree, else_to="home"),
    )


def _stage(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    orchard, tree = admission.orchard, _tree_of(admission)
    if tree is None:
        groups = observations.cultivar_groups(orchard)
        noted = _cleaned(GroupStageForm.for_groups(groups, today=today, data=post))
    else:
        noted = _cleaned(StageForm.new(today=today, tree=tree, data=post))
        noted = seen_on_whom(tree, **noted)
    return BroughtDeed(
        partial(inbox.note_stage, orchard, **noted),
        _("Growth stage recorded."),
        _page_of(admission, tree, else_to="stages"),
    )


def _ripeness_test(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    _check_units(admission, post)
    orchard = admission.orchard
    # A database takes no NUL; the form says what is wrong with the code itself.
    code = post.get("tree", "").replace("\0", "")
    form = RipenessForm.new(
        tree="",
        by_colour=ripeness.is_judged_by_colour(orchard, code),
        today=today,
        units=orchard.units,
        data=post,
    )
    figures = _cleaned(form)
    tree = permissions.tree_typed(admission.member, figures.pop("tree"))
    return BroughtDeed(
        partial(inbox.note_ripeness_test, tree, today=today, **figures),
        _("Test of %(code)s recorded.") % {"code": tree.code},
        _page_of(admission, None, else_to="outlook-ripeness"),
        text_of=lambda number: test_text(
            read_test(permissions.ripeness_test_for(admission.member, number))
        ),
    )


def _watering(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    _check_units(admission, post)
    given = _cleaned(WateringForm(post, orchard=admission.orchard))
    trees = trees_watered(
        admission.member, block=given.pop("block"), tree=given.pop("tree")
    )
    count = len(trees)
    text = ngettext("%(count)d tree watered.", "%(count)d trees watered.", count)
    return BroughtDeed(
        partial(inbox.note_watering, trees, today=today, **given),
        text % {"count": count},
        _page_of(admission, None, else_to="outlook-water"),
    )


def _treatment(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    _check_units(admission, post)
    kind = _kind_in(post)
    orchard, member = admission.orchard, admission.member
    form = TreatmentForm(post, kind=kind, orchard=orchard)
    amounts = amount_forms(treatments.products_of(orchard, kind), post)
    _cleaned(form)
    if not amounts.is_valid():
        faults = [str(fault) for fault in amounts.non_form_errors()]
        for each in amounts.forms:
            faults += [str(fault) for found in each.errors.values() for fault in found]
        raise Refused(" ".join(faults), code="bad_form")
    task = _number_in(post, "of_task")
    plan = _number_in(post, "of_plan")
    return BroughtDeed(
        partial(
            inbox.record_treatment,
            orchard,
            form.use(amounts_in(amounts)),
            today=today,
            task=permissions.task_for(member, task) if task else None,
            plan=permissions.treatment_for(member, plan) if plan else None,
        ),
        _("Treatment recorded."),
        _page_of(admission, None, else_to="treatments"),
    )


def _wet_spell(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    return BroughtDeed(
        partial(
            inbox.note_wet_spell, admission.orchard, **_cleaned(WetSpellForm(post))
        ),
        _("Recorded. What was found dry meanwhile is closed again."),
        _page_of(admission, None, else_to="treatments"),
    )


def _dry_check(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    row = permissions.treatment_for(admission.member, admission.entry.treatment or 0)
    return BroughtDeed(
        partial(inbox.confirm_dry, row, **_cleaned(DryForm(post))),
        _("Confirmed. The page says from when people may enter."),
        reverse("treatment-show", args=[admission.orchard.slug, row.pk]),
    )


def _product(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    label = _cleaned(ProductForm(post, kind=_kind_in(post)))
    # It comes as an entry of its own.
    label.pop("photo", None)
    return BroughtDeed(
        partial(
            inbox.add_product,
            admission.orchard,
            today=today,
            kind=_kind_in(post).value,
            **label,
        ),
        _("Product added."),
        _page_of(admission, None, else_to="products"),
    )


def _kind_in(post: QueryDict) -> TreatmentKind:
    try:
        return TreatmentKind(post.get("kind", ""))
    except ValueError:
        raise Refused(_("Choose what was used."), code="bad_form") from None


def _number_in(post: QueryDict, name: str) -> int:
    text = post.get(name, "")
    return int(text) if text.isdecimal() and len(text) <= 18 else 0


def _harvest(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    member = admission.member
    form = PickForm.new(
        member,
        now=now,
        may_allow=permissions.may(member, Deed.RELEASE_FRUIT),
        data=post,
    )
    anyway = _cleaned(form)["anyway"]
    return BroughtDeed(
        partial(
            inbox.record_harvest,
            member,
            form.written,
            today=today,
            anyway=anyway,
        ),
        _("The harvest is recorded."),
        _page_of(admission, None, else_to="harvests"),
        text_of=lambda number: picked_text(permissions.harvest_for(member, number)),
    )


def _harvest_share(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    lot = permissions.harvest_for(admission.member, admission.entry.harvest or 0)
    fields = _cleaned(ShareForm.new(lot, today=today, data=post))
    return BroughtDeed(
        partial(inbox.share_harvest, lot, today=today, **fields),
        _("Recorded where it went: lot %(lot)s.") % {"lot": lot.lot},
        _page_of(admission, None, else_to="harvests"),
    )


def _withdrawal(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    if admission.entry.parent is None:
        raise NotThere()
    inspection = permissions.inspection_kept_as(
        admission.member, admission.entry.parent
    )
    permissions.require_own(admission.member, inspection)
    if not inspection.all_well:
        raise Refused(
            _("Only a tree that was all well is withdrawn at once."), code="bad_form"
        )
    return BroughtDeed(
        partial(inbox.withdraw_look, inspection),
        _("The inspection is withdrawn."),
        _page_of(admission, inspection.tree, else_to="home"),
    )


def _second_look(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    look = permissions.second_look_for(admission.member, admission.entry.look or 0)
    return BroughtDeed(
        partial(inbox.answer_second_look, look, **read_answer(look, post)),
        _("Answered. The observer can read it."),
        _page_of(admission, None, else_to="second-looks"),
    )


def _practice(
    admission: Admission, post: QueryDict, today: date, now: datetime
) -> BroughtDeed:
    # Under the key of its entry it is one answer, however often it comes.
    post["key"] = str(admission.entry.key)
    given = _cleaned(PracticeAnswerForm(post))
    given["level"] = PracticeLevel(given["level"])
    return BroughtDeed(
        partial(
            inbox.answer_practice, admission.member, at=admission.made_at(now), **given
        ),
        "",
        _page_of(admission, None, else_to="practice"),
    )


def _check_units(admission: Admission, post: QueryDict) -> None:
    if post.get("units") != admission.orchard.units:
        raise Refused(
            _("The orchard measures in other units now. Open it and give the figures."),
            code="bad_form",
        )


def _tree_of(admission: Admission) -> Tree | None:
    if admission.tree is None:
        return None
    return permissions.tree_for(admission.member, admission.tree.code)


def _page_of(admission: Admission, tree: Tree | None, *, else_to: str) -> str:
    slug = admission.orchard.slug
    if tree is not None:
        return reverse("tree-show", args=[slug, tree.code])
    return reverse(else_to, args=[slug])


def _cleaned(form: Form) -> dict[str, Any]:
    if not form.is_valid():
        faults = [str(fault) for faults in form.errors.values() for fault in faults]
        raise Refused(" ".join(faults), code="bad_form")
    return dict(form.cleaned_data)


Reader = Callable[[Admission, QueryDict, date, datetime], BroughtDeed]
READERS: dict[EntryKind, Reader] = {
    EntryKind.CLOSURE: _closure,
    EntryKind.TAKING: _taking,
    EntryKind.EVENT: _event,
    EntryKind.STAGE: _stage,
    EntryKind.RIPENESS_TEST: _ripeness_test,
    EntryKind.WATERING: _watering,
    EntryKind.TREATMENT: _treatment,
    EntryKind.WET_SPELL: _wet_spell,
    EntryKind.WITHDRAWAL: _withdrawal,
    EntryKind.SECOND_LOOK: _second_look,
    EntryKind.HARVEST: _harvest,
    EntryKind.HARVEST_SHARE: _harvest_share,
    EntryKind.DRY_CHECK: _dry_check,
    EntryKind.PRODUCT: _product,
    EntryKind.PRACTICE: _practice,
}
