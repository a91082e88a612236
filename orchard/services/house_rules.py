"""An orchard's own rules: set, lifted, and which of them hold on a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import HouseRule, Orchard, PestStatus, User
from orchard.science import guide
from orchard.science import words as law
from orchard.science.guide import GuideError, Rule, Sign
from orchard.science.verdict import RuleSet
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason

Rows = Iterable[Mapping[str, Any]]


def sign_of(key: str) -> Sign:
    """Return a sign of the guide.

    Raises:
        Refused (unknown_sign): the guide has none of that name.
    """
    sign = guide.load().signs.get(key)
    if sign is None:
        raise Refused(
            _("The guide has no sign “%(sign)s”. Choose one of its signs.")
            % {"sign": key},
            code="unknown_sign",
        )
    return sign


def read(sign: str, rows: Rows) -> tuple[Rule, ...]:
    """Return a rule list as the guide's own check leaves it.

    Raises:
        Refused (unknown_sign): the guide has no such sign.
        Refused (bad_rules): a row makes no sense, a gap is left, or a rule is out of
            reach.
    """
    found = sign_of(sign)
    try:
        return _ordered(guide.read_rules(rows, guide.load().facts, found.name), found)
    except GuideError as problem:
        raise Refused(
            _("These rules don't fit together. %(problem)s Correct that row.")
            % {"problem": problem},
            code="bad_rules",
        ) from None


def _ordered(rules: Iterable[Rule], sign: Sign) -> tuple[Rule, ...]:
    """Put the conditions of each rule in the order of the guide's own rule.

    A database may hand back the keys of a stored rule in an order of its own; words,
    comparisons and the question asked first must not depend on that.
    """
    orders = [
        [(condition.fact, condition.op) for condition in rule.conditions]
        for rule in sign.rules
    ]
    facts = list(guide.load().facts)
    ordered = []
    for rule in rules:
        mine = {
            (condition.fact, condition.op): condition for condition in rule.conditions
        }
        order = next((keys for keys in orders if set(keys) == set(mine)), None)
        if order is None:
            order = sorted(mine, key=lambda key: (facts.index(key[0]), key[1]))
        ordered.append(replace(rule, conditions=tuple(mine[key] for key in order)))
    return tuple(ordered)


def rule_set_of(row: HouseRule) -> RuleSet | None:
    """Return a stored house rule as the verdict reads it.

    None when today's guide cannot read it any more, because a fact or the sign has
    gone: then the guide's own rules hold, and the pages of the rules say so.
    """
    book = guide.load()
    if row.sign not in book.signs:
        return None
    try:
        rules = guide.read_rules(row.rules, book.facts, row.sign)
    except GuideError:
        return None
    return RuleSet(
        id=str(row.pk),
        sign=row.sign,
        rules=_ordered(rules, book.signs[row.sign]),
        author=row.author.name,
        reason=row.reason,
        starts_on=row.starts_on,
    )


def holding(orchard: Orchard, on: date) -> dict[str, RuleSet]:
    """Return the house rules that hold in an orchard on a day, by sign."""
    rows = HouseRule.objects.holding(orchard, on).select_related("author")
    found = {row.sign: rule_set_of(row) for row in rows.order_by("starts_on", "id")}
    return {sign: rule for sign, rule in found.items() if rule is not None}


def row_holding(orchard: Orchard, sign: str, on: date) -> HouseRule | None:
    """Return the stored house rule that holds for a sign on a day, or None."""
    return (
        HouseRule.objects.holding(orchard, on)
        .filter(sign=sign)
        .select_related("author")
        .first()
    )


def standing(orchard: Orchard, sign: str) -> HouseRule | None:
    """Return the house rule of a sign that nobody has lifted, begun or to come."""
    return (
        HouseRule.objects.filter(orchard=orchard, sign=sign, lifted_on=None)
        .select_related("author")
        .first()
    )


def history(orchard: Orchard, sign: str = "") -> list[HouseRule]:
    """Return every house rule an orchard ever had, the newest first."""
    rows = HouseRule.objects.filter(orchard=orchard).select_related(
        "author", "lifted_by"
    )
    if sign:
        rows = rows.filter(sign=sign)
    return list(rows.order_by("-starts_on", "-id"))


@transaction.atomic
def set_rule(
    orchard: Orchard,
    *,
    sign: str,
    rules: Rows,
    reason: str,
    starts_on: date,
    by: User,
    now: datetime,
    today: date,
) -> HouseRule:
    """Put a whole rule list in the place of the guide's, from a day on.

    A rule of the same sign that stands, or was to begin later, ends where it begins.

    Raises:
        Refused (unknown_sign), bad_rules: see `read`.
        Refused (nothing_changed): the list is the one that holds already.
        Refused (report_must_stay): it takes away a report that the pest list asks for.
        Refused (wrong_day): the day is before today.
        Refused (reason_missing): no reason is given.
    """
    checked = read(sign, rules)
    reason = require_reason(reason)
    if starts_on < today:
        raise Refused(
            _("A house rule can't begin before today. Verdicts already given stay."),
            code="wrong_day",
            field="starts_on",
        )
    Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
    _refuse_less_than_a_report(orchard, sign_of(sign), checked)
    before = holding(orchard, starts_on).get(sign)
    if checked == (before.rules if before else sign_of(sign).rules):
        raise Refused(
            _("These rules are in force already. Change one of them, or go back."),
            code="nothing_changed",
        )
    _end_at(orchard, sign, starts_on, by=by, now=now)
    row = HouseRule(
        orchard=orchard,
        sign=sign,
        rules=guide.write_rules(checked),
        reason=reason,
        starts_on=starts_on,
        author=by,
        written_at=now,
    )
    return audit.save(Verb.SET, row, by=by, now=now, reason=row.reason)


def _end_at(
    orchard: Orchard, sign: str, starts_on: date, *, by: User, now: datetime
) -> None:
    reaching = HouseRule.objects.filter(orchard=orchard, sign=sign).filter(
        Q(lifted_on=None) | Q(lifted_on__gt=starts_on)
    )
    for row in reaching.order_by("id"):
        reason = row.lifted_reason or _("Another house rule takes its place.")
        _lift(row, on=max(starts_on, row.starts_on), by=by, now=now, reason=reason)


def _refuse_less_than_a_report(
    orchard: Orchard, sign: Sign, rules: tuple[Rule, ...]
) -> None:
    """Refuse a list that reports less than the guide while the pest is reportable."""
    statuses = pest_status(orchard)
    if not any(law.LocalStatus(statuses[code]).must_be_reported for code in sign.eppo):
        return
    mine = [rule.conditions for rule in rules]
    for place, theirs in enumerate(sign.rules):
        if theirs.verdict is not law.Verdict.REPORT:
            continue
        earlier = [rule.conditions for rule in sign.rules[:place]]
        here = mine.index(theirs.conditions) if theirs.conditions in mine else None
        if (
            here is None
            or rules[here].verdict is not law.Verdict.REPORT
            or (rules[here].due or 0) > (theirs.due or 0)
            or any(conditions not in earlier for conditions in mine[:here])
        ):
            raise Refused(
                _(
                    "This pest must be reported here, so its Report rules stay as they "
                    "are. If the authority says otherwise, change the pest list first."
                ),
                code="report_must_stay",
            )


@transaction.atomic
def lift(
    rule: HouseRule, *, by: User, now: datetime, today: date, reason: str
) -> HouseRule:
    """End a house rule: from today on the guide's own rules hold again.

    Raises:
        Refused (already_lifted): it was lifted before.
        Refused (reason_missing): no reason is given.
    """
    rule = HouseRule.objects.select_for_update(no_key=True).get(pk=rule.pk)
    if rule.lifted_on is not None:
        raise Refused(
            _("This house rule was lifted on %(day)s; there is nothing to lift.")
            % {"day": date_format(rule.lifted_on, "j M Y")},
            code="already_lifted",
        )
    reason = require_reason(reason)
    return _lift(rule, on=max(today, rule.starts_on), by=by, now=now, reason=reason)


def _lift(
    rule: HouseRule, *, on: date, by: User, now: datetime, reason: str
) -> HouseRule:
    fields = ("lifted_on", "lifted_by_id", "lifted_reason")
    before = audit.snapshot(rule, *fields)
    rule.lifted_on = on
    rule.lifted_by = by
    rule.lifted_reason = reason
    return audit.save(
        Verb.LIFT, rule, by=by, now=now, fields=fields, before=before, reason=reason
    )


def pest_rows(orchard: Orchard) -> dict[str, PestStatus]:
    """Return what an orchard has on record of each pest, by the pest's code."""
    rows = PestStatus.objects.filter(orchard=orchard).select_related("set_by")
    return {row.code: row for row in rows}


def pest_status(orchard: Orchard) -> dict[str, str]:
    """Return the status of every pest of the guide in an orchard, by EPPO code.

    A pest the orchard says nothing about stands as the guide usually has it.
    """
    pests = guide.load().pests
    recorded = PestStatus.objects.filter(orchard=orchard).values_list("code", "status")
    return {code: pest.usual_status.value for code, pest in pests.items()} | dict(
        recorded
    )


def confirmed_status(orchard: Orchard) -> dict[str, str]:
    """Return the status of the pests that a person of the orchard has set, by code."""
    rows = PestStatus.objects.filter(orchard=orchard).exclude(set_by=None)
    return dict(rows.values_list("code", "status"))


def unset_pests(orchard: Orchard) -> tuple[str, ...]:
    """Return the pests to ask the authority about of which nobody has said yet."""
    confirmed = confirmed_status(orchard)
    return tuple(code for code in guide.load().standings if code not in confirmed)


def suggested_status(region: str) -> dict[str, str]:
    """Return how pests usually stand in a region; nothing of those to ask about."""
    return {
        code: status.value
        for code, row in guide.load().standings.items()
        if (status := row.by_region.get(region)) is not None
    }


@transaction.atomic
def confirm_pests(
    orchard: Orchard,
    *,
    statuses: Mapping[str, str],
    source: str,
    by: User,
    now: datetime,
) -> list[PestStatus]:
    """Set the status of several pests at once; what is left out stays as it is.

    Raises:
        Refused (unknown_pest), source_missing: as `set_pest_status`.
        Refused (nothing_changed): all of them are set so already.
    """
    on_record = pest_rows(orchard)
    changed = {
        code: status
        for code, status in statuses.items()
        if code not in on_record
        or on_record[code].set_by_id is None
        or (on_record[code].status, on_record[code].source) != (status, source.strip())
    }
    if not changed:
        raise Refused(
            _("Nothing was changed. Change a status, or who says so."),
            code="nothing_changed",
        )
    return [
        set_pest_status(
            orchard, code=code, status=status, source=source, by=by, now=now
        )
        for code, status in changed.items()
    ]


@transaction.atomic
def set_pest_status(
    orchard: Orchard, *, code: str, status: str, source: str, by: User, now: datetime
) -> PestStatus:
    """Say how a pest stands in the orchard's area, and who says so.

    Verdicts already given stay as they are.

    Raises:
        Refused (unknown_pest): the guide has no such code.
        Refused (source_missing): nobody is named who says so.
        Refused (nothing_changed): the list says so already.
    """
    if code not in guide.load().pests:
        raise Refused(
            _("The guide has no pest with the code %(code)s.") % {"code": code},
            code="unknown_pest",
        )
    if not source.strip():
        raise Refused(
            _("Name who says so: the authority's notice, its date, or the person."),
            code="source_missing",
            field="source",
        )
    row = (
        PestStatus.objects.select_for_update(no_key=True)
        .filter(orchard=orchard, code=code)
        .first()
    )
    before = None if row is None else audit.snapshot(row)
    if row is not None and (row.status, row.source) == (status, source.strip()):
        raise Refused(
            _("Nothing was changed. Change the status, or who says so."),
            code="nothing_changed",
        )
    row = row or PestStatus(code=code)
    row.orchard = orchard
    row.status = status
    row.source = source.strip()[:200]
    row.set_by = by
    row.set_at = now
    return audit.save(Verb.SET, row, by=by, now=now, before=before, reason=row.source)


@transaction.atomic
def ask_pests_anew(orchard: Orchard, *, by: User, now: datetime) -> list[PestStatus]:
    """Take back what was set of pests that stand otherwise elsewhere, to be asked anew.

    Until somebody confirms them they stand as the guide usually has them and are named
    as not set. Verdicts already given stay as they are.
    """
    rows = (
        PestStatus.objects.select_for_update(of=("self",), no_key=True)
        .filter(orchard=orchard, code__in=guide.load().standings)
        .exclude(set_by=None)
        .order_by("id")
    )
    asked = []
    for row in rows:
        before = audit.snapshot(row)
        row.status = guide.load().pests[row.code].usual_status.value
        row.source, row.set_by, row.set_at = "", None, now
        reason = _("The region of the orchard was changed.")
        asked.append(
            audit.save(Verb.ASK_ANEW, row, by=by, now=now, before=before, reason=reason)
        )
    return asked
