"""Work: what is open, and how it was closed."""

from __future__ import annotations

from typing import Any, NamedTuple, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orchard.records.columns import only, word, writer, writer_is_another
from orchard.science import guide
from orchard.science.words import JobRole, WorkKind


def job_keys(*roles: JobRole) -> tuple[str, ...]:
    """Return the keys of the guide's jobs that have one of some roles."""
    return tuple(job.key for role in roles for job in guide.load().jobs_with(role))


class Target(NamedTuple):
    """What a task is about: a tree, else a block, else the whole orchard."""

    tree_id: int | None = None
    block_id: int | None = None

    @classmethod
    def from_columns(cls, tree_id: int | None, block_id: int | None) -> Self:
        """Return it from a task's columns; a tree's block is only where it stands."""
        return cls(tree_id) if tree_id is not None else cls(block_id=block_id)


class TaskQuerySet(models.QuerySet["Task"]):
    def in_orchard(self, orchard: Any) -> Self:
        return self.filter(orchard=orchard)

    def open(self) -> Self:
        return self.filter(closed_at=None)

    def begun(self, today: Any) -> Self:
        """Only what may be done from today on."""
        return self.filter(opens_on__lte=today)

    def overdue(self, today: Any) -> Self:
        return self.filter(due_on__lt=today)

    def not_private(self) -> Self:
        return self.filter(private=False)

    def care(self, *jobs: str) -> Self:
        """Only seasonal care: of all jobs, or of some."""
        care = self.filter(kind=Task.Kind.CARE)
        return care.filter(key__in=jobs) if jobs else care

    def of_jobs(self) -> Self:
        """Only jobs of the guide, whoever asked for them: the plan, or a person."""
        return self.filter(kind__in=Task.OF_A_JOB)

    def with_role(self, *roles: JobRole) -> Self:
        """Only tasks of a job that has one of some roles."""
        return self.of_jobs().filter(key__in=job_keys(*roles))

    def about(self, tree: Any, sign: str, *kinds: str) -> Self:
        """Only what findings of a sign on a tree asked for, of all kinds or of some."""
        asked = self.filter(tree=tree, key=sign).exclude(kind__in=Task.OF_A_JOB)
        return asked.filter(kind__in=kinds) if kinds else asked

    def same_work(self, task: Task) -> Self:
        """Only turns of the same work on the same target, this one among them.

        A job is the same work whoever asked for it: the plan, or a person.
        """
        kinds = Task.OF_A_JOB if task.kind in Task.OF_A_JOB else (task.kind,)
        same = self.filter(orchard=task.orchard_id, kind__in=kinds, key=task.key)
        if task.tree_id is not None:
            return same.filter(tree=task.tree_id)
        return same.filter(tree=None, block=task.block_id)


class TaskRequest(models.Model):
    """What somebody asked for by hand, once for all the tasks that came of it."""

    orchard = models.ForeignKey("Orchard", on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    title = models.CharField(_("title"), max_length=160)
    # The guide's name of a job; empty where the title is one's own.
    job = models.CharField(_("job"), max_length=40, blank=True)
    # One step a line.
    steps = models.TextField(_("steps"), blank=True)
    evidence = models.CharField(_("evidence wanted"), max_length=500, blank=True)
    minutes = models.PositiveSmallIntegerField(_("minutes"), null=True, blank=True)
    # What it does to a tree, where no job says so: a hold may forbid it.
    work = word(WorkKind, blank=True)

    class Meta:
        constraints = [only("work", WorkKind, blank=True)]

    def __str__(self) -> str:
        return f"request {self.pk}: {self.title}"


class Task(models.Model):
    """A piece of work on a tree, a block or the orchard, with its window."""

    class Kind(models.TextChoices):
        REPORT = "report", _("report")
        ACT = "act", _("act on a finding")
        CARE = "care", _("seasonal care")
        LOOK = "look", _("next look")
        ONCE = "once", _("one-off task")

    # Kinds whose key is that of a job: asked for by the plan, or by a person.
    OF_A_JOB = (Kind.CARE, Kind.ONCE)
    # Kinds in the order of the board: what cannot wait stands first.
    RANKS = {Kind.REPORT: 0, Kind.ACT: 1, Kind.CARE: 2, Kind.ONCE: 2, Kind.LOOK: 3}
    # Looking for a pest that must be reported stands with what a finding calls for.
    RANK_OF_PEST_WATCH = RANKS[Kind.ACT]
    # What a night of frost asks for is too late tomorrow.
    RANK_OF_FROST_NIGHT = RANKS[Kind.REPORT]
    # So is what can come down on people.
    RANK_OF_DANGER = RANKS[Kind.REPORT]

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="tasks", db_index=False
    )
    block = models.ForeignKey(
        "Block",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="tasks",
        db_index=False,
    )
    tree = models.ForeignKey(
        "Tree",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="tasks",
        db_index=False,
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    rank = models.PositiveSmallIntegerField()
    # The guide's name of the job, or of the sign that was found; of a title of one's
    # own what it has in common with others of the same title and day.
    key = models.CharField(max_length=40)
    # Names this turn of the work ("2026", "2026-05-01", "finding:9"): never twice.
    occurrence = models.CharField(max_length=40)
    title = models.CharField(max_length=160)
    because = models.CharField(max_length=500, blank=True)
    caution = models.CharField(max_length=500, blank=True)
    opens_on = models.DateField()
    due_on = models.DateField()
    rhythm_days = models.PositiveIntegerField()
    finding = models.ForeignKey(
        "Finding",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="tasks",
    )
    request = models.ForeignKey(
        TaskRequest,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="tasks",
    )
    # An index of all tasks would also be asked which of them nobody has taken.
    taken_by = models.ForeignKey(
        "User",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    private = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    # Follows the standing closure; the partial indexes need it on this row.
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = TaskQuerySet.as_manager()

    class Meta:
        constraints = [
            only("kind", ("report", "act", "care", "look", "once")),
            models.CheckConstraint(condition=~Q(key=""), name="task_names_its_work"),
            models.CheckConstraint(
                condition=Q(kind__in=("care", "once")) | Q(tree__isnull=False),
                name="task_of_a_sign_has_its_tree",
            ),
            models.CheckConstraint(
                condition=Q(kind="once", request__isnull=False)
                | ~Q(kind="once") & Q(request=None),
                name="task_by_hand_says_of_whom",
            ),
            models.CheckConstraint(
                condition=Q(due_on__gte=models.F("opens_on")),
                name="task_due_after_opens",
            ),
            models.CheckConstraint(
                condition=Q(rhythm_days__gte=1), name="task_rhythm_positive"
            ),
            # On each target one open task of a kind and key, and no turn of it twice.
            models.UniqueConstraint(
                fields=["tree", "kind", "key"],
                condition=Q(closed_at=None, tree__isnull=False),
                name="task_one_open_on_tree",
            ),
            models.UniqueConstraint(
                fields=["block", "kind", "key"],
                condition=Q(closed_at=None, tree=None, block__isnull=False),
                name="task_one_open_on_block",
            ),
            models.UniqueConstraint(
                fields=["orchard", "kind", "key"],
                condition=Q(closed_at=None, tree=None, block=None),
                name="task_one_open_on_orchard",
            ),
            models.UniqueConstraint(
                fields=["tree", "kind", "key", "occurrence"],
                condition=Q(tree__isnull=False),
                name="task_turn_once_on_tree",
            ),
            models.UniqueConstraint(
                fields=["block", "kind", "key", "occurrence"],
                condition=Q(tree=None, block__isnull=False),
                name="task_turn_once_on_block",
            ),
            models.UniqueConstraint(
                fields=["orchard", "kind", "key", "occurrence"],
                condition=Q(tree=None, block=None),
                name="task_turn_once_on_orchard",
            ),
        ]
        indexes = [
            # The board counts from this index alone: it holds all that a line tells.
            models.Index(
                fields=[
                    "orchard",
                    "due_on",
                    "opens_on",
                    "rank",
                    "kind",
                    "key",
                    "block",
                    "taken_by",
                    "private",
                    "rhythm_days",
                    "tree",
                ],  # fmt: skip
                condition=Q(closed_at=None),
                name="task_open_board",
            ),
            models.Index(
                fields=["orchard", "kind", "key", "due_on", "id"],
                condition=Q(closed_at=None),
                name="task_open_by_job",
            ),
            models.Index(
                fields=["block", "due_on", "id"],
                condition=Q(closed_at=None),
                name="task_open_by_block",
            ),
            models.Index(
                fields=["tree", "due_on", "id"],
                condition=Q(closed_at=None),
                name="task_open_by_tree",
            ),
            models.Index(
                fields=["taken_by", "due_on", "id"],
                condition=Q(closed_at=None, taken_by__isnull=False),
                name="task_open_by_taker",
            ),
            models.Index(
                fields=["tree", "-closed_at", "-id"],
                condition=Q(closed_at__isnull=False),
                name="task_closed_by_tree",
            ),
            models.Index(
                fields=["orchard", "kind", "key"],
                condition=Q(closed_at__isnull=False),
                name="task_closed_by_job",
            ),
        ]

    def __str__(self) -> str:
        return f"task {self.pk}: {self.kind} {self.key}"

    @property
    def target(self) -> Target:
        """Return what it is about."""
        return Target.from_columns(self.tree_id, self.block_id)

    @property
    def work(self) -> tuple[Target, str, str]:
        """Return what it has in common with `same_work`."""
        kind = Task.Kind.CARE if self.kind in self.OF_A_JOB else self.kind
        return self.target, kind, self.key

    def has_role(self, role: JobRole) -> bool:
        """Tell whether it is a task of a job that has a role."""
        return self.kind in self.OF_A_JOB and self.key in job_keys(role)


class Closure(models.Model):
    """How a task ended: a row with who, when and why, never a mere flag."""

    class How(models.TextChoices):
        DONE = "done", _("done")
        SKIPPED = "skipped", _("skipped")
        CANCELLED = "cancelled", _("fell away")

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="closures")
    how = models.CharField(max_length=10, choices=How.choices)
    by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    written_by = writer()
    done_on = models.DateField(_("done on"))
    closed_at = models.DateTimeField()
    reason = models.CharField(_("reason"), max_length=500, blank=True)
    evidence = models.CharField(_("what was done"), max_length=500, blank=True)
    inspection = models.ForeignKey(
        "Inspection",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="closures",
    )
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        "User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            only("how", ("done", "skipped", "cancelled")),
            writer_is_another(),
            models.UniqueConstraint(
                fields=["task"],
                condition=Q(undone_at=None),
                name="closure_one_standing_per_task",
            ),
            models.CheckConstraint(
                condition=Q(how="done") | ~Q(reason=""),
                name="closure_says_why",
            ),
        ]
        indexes = [
            models.Index(
                fields=["-done_on", "-id"],
                condition=Q(undone_at=None),
                name="closure_standing_by_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.how}: task {self.task_id}"

    @property
    def is_proven(self) -> bool:
        return self.how != self.How.DONE or bool(self.evidence)


class BulkChange(models.Model):
    """What somebody did to many tasks at once, so that it can be undone at once."""

    class Deed(models.TextChoices):
        TAKE = "take", _("took")
        HAND_OVER = "hand_over", _("handed over")
        CLOSE = "close", _("closed")
        MOVE_DAY = "move_day", _("moved the day of")
        MAKE = "make", _("added")

    orchard = models.ForeignKey(
        "Orchard", on_delete=models.PROTECT, related_name="bulk_changes"
    )
    by = models.ForeignKey("User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    deed = models.CharField(max_length=10, choices=Deed.choices)
    # What each task was, by its number, and what all of them became.
    before = models.JSONField()
    after = models.JSONField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [only("deed", ("take", "hand_over", "close", "move_day", "make"))]

    def __str__(self) -> str:
        return f"{self.deed}: {len(self.before)} tasks"


class CutTest(models.Model):
    """What a cut test after a frost showed: the result of one kind of work.

    Work that yields more than words has a table of its own for it, one row a closure.
    """

    closure = models.OneToOneField(
        Closure, on_delete=models.PROTECT, related_name="cut_test"
    )
    fruit_cut = models.PositiveSmallIntegerField(_("fruit cut"))
    fruit_spoilt = models.PositiveSmallIntegerField(_("of these frozen or dry"))

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(fruit_cut__gte=1, fruit_spoilt__lte=models.F("fruit_cut")),
                name="cuttest_counts_fit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fruit_spoilt} of {self.fruit_cut} spoilt: {self.closure_id}"
