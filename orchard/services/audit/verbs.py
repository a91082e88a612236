"""What can be done to a row of the book, each deed with the words it is told in."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Verb(StrEnum):
    """A deed that the ledger tells of; without words there is no verb."""

    words: Promise

    def __new__(cls, value: str, words: Promise) -> Self:
        verb = str.__new__(cls, value)
        verb._value_ = value
        verb.words = words
        return verb

    ADD = "add", _("added")
    ANSWER = "answer", _("answered")
    ARRANGE = "arrange", _("arranged")
    ASK = "ask", _("asked for")
    ASK_ANEW = "ask_anew", _("reset, to be confirmed again:")
    BRING_UP_TO_DATE = "bring_up_to_date", _("brought up to date")
    BRING_BACK = "bring_back", _("brought back")
    CHANGE_PASSWORD = "change_password", _("changed the password of")
    CHANGE_ROLE = "change_role", _("changed the role of")
    CLOSE = "close", _("closed")
    CORRECT = "correct", _("corrected")
    CORRECT_DETAILS = "correct_details", _("corrected the details of")
    DESCRIBE = "describe", _("described")
    DIED = "died", _("noted the death of")
    ENROL = "enrol", _("entered")
    FOUND = "found", _("founded")
    GIVE_BACK = "give_back", _("gave back")
    HAND_OVER = "hand_over", _("assigned")
    INVITE = "invite", _("invited")
    JOIN = "join", _("came in:")
    KEEP = "keep", _("kept")
    LEAVE = "leave", _("ended the membership of")
    LIFT = "lift", _("lifted")
    LINK = "link", _("linked")
    MAKE = "make", _("made")
    MAKE_LINK = "make_link", _("made a link for a new password of")
    MOVE = "move", _("moved")
    MOVE_DAY = "move_day", _("moved the day of")
    NOTE = "note", _("noted")
    OPEN = "open", _("opened")
    OPEN_NEXT = "open_next", _("opened the next tasks of")
    OVERRIDE = "override", _("judged anew")
    PLAN = "plan", _("planned")
    PLANT = "plant", _("planted")
    RECORD = "record", _("recorded")
    REFRESH = "refresh", _("renewed")
    REMOVE = "remove", _("removed")
    RENAME = "rename", _("renamed")
    REOPEN = "reopen", _("opened again")
    RETIRE = "retire", _("retired")
    SCION_DIED = "scion died", _("noted only the rootstock alive of")
    SET = "set", _("set")
    SET_JOB = "set_job", _("set in the care plan")
    SET_PASSWORD = "set_password", _("set the password of")
    TAKE = "take", _("took")
    TAKE_BACK = "take back", _("withdrew the removal of")
    TAKE_BACK_DEAD_TOP = "take back dead top", _("withdrew the dead top of")
    TAKE_BACK_DEATH = "take back death", _("withdrew the death of")
    TAKE_IN = "take in", _("imported from a list")
    TAKE_IN_FILE = "take in file", _("imported")
    UNDO = "undo", _("undid the last step in")
    WITHDRAW = "withdraw", _("withdrew")
    WITHDRAW_INVITATION = "withdraw_invitation", _("withdrew the invitation to")


WORDS = {verb.value: verb.words for verb in Verb}
