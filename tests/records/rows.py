"""One valid row of every table, for tests that spoil a column of it."""

from __future__ import annotations

from datetime import timedelta
from itertools import count
from typing import Any

from django.apps import apps
from django.db.models import Model

from orchard.records.models import Orchard, User
from tests.conftest import NOW, TODAY, make_orchard

_numbers = count(1)


class Rows:
    """Valid rows of one orchard."""

    def __init__(self, orchard: Orchard | None = None) -> None:
        self.orchard = orchard or make_orchard(f"orchard-{next(_numbers)}")
        self.user = User.objects.create_user(f"{self.orchard.slug}@example.org", "Ann")
        self._made: dict[str, Any] = {"orchard": self.orchard, "user": self.user}

    def new(self, table: str, /, **changes: Any) -> Model:
        """Return a valid row, not saved, that no other one stands in the way of."""
        model = apps.get_model("records", table)
        return model(**{**getattr(self, f"_{table}")(), **changes})

    def add(self, table: str, /, **changes: Any) -> Any:
        """Save a row as `new` makes it."""
        row = self.new(table, **changes)
        row.save(force_insert=True)
        return row

    def get(self, table: str) -> Any:
        """Return this orchard's one row of a sort, made when first asked for."""
        if table not in self._made:
            self._made[table] = self.add(table)
        return self._made[table]

    def _within(self, *parents: str, **fields: Any) -> dict[str, Any]:
        return {parent: self.get(parent) for parent in parents} | fields

    def _observed(self, *parents: str, **fields: Any) -> dict[str, Any]:
        return self._within(
            "orchard", *parents, by=self.user, received_at=NOW, **fields
        )

    def _orchard(self) -> dict[str, Any]:
        return {
            "slug": f"orchard-{next(_numbers)}",
            "name": "Orchard",
            "place": "Nowhere",
            "time_zone": "Europe/Lisbon",
            "latitude": "38.5",
            "longitude": "-8.5",
            "founded_at": NOW,
        }

    def _user(self) -> dict[str, Any]:
        return {"email": f"{next(_numbers)}@example.org", "name": "Ann"}

    def _membership(self) -> dict[str, Any]:
        return self._within(
            "orchard", user=self.add("user"), role="lead", joined_at=NOW
        )

    def _invitation(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            email="new@example.org",
            role="lead",
            token_hash=str(next(_numbers)),
            invited_by=self.user,
            invited_at=NOW,
            expires_at=NOW + timedelta(days=1),
        )

    def _block(self) -> dict[str, Any]:
        return self._within("orchard", code=f"B{next(_numbers)}", name="Block")

    def _spot(self) -> dict[str, Any]:
        return self._within("block", number=str(next(_numbers)))

    def _kind(self) -> dict[str, Any]:
        return self._within("orchard", name=f"Kind {next(_numbers)}")

    def _tree(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            "kind",
            spot=self.add("spot"),
            code=f"T{next(_numbers)}",
            born_on=TODAY - timedelta(days=90),
            planted_on=TODAY - timedelta(days=60),
            entered_at=NOW,
        )

    def _stay(self) -> dict[str, Any]:
        return {"tree": self.add("tree"), "spot": self.get("spot"), "since_on": TODAY}

    def _tag(self) -> dict[str, Any]:
        return {
            "tree": self.add("tree"), "token": str(next(_numbers)), "made_at": NOW
        }  # fmt: skip

    def _peststatus(self) -> dict[str, Any]:
        return self._within(
            "orchard", code=f"P{next(_numbers)}", status="absent", set_at=NOW
        )

    def _round(self) -> dict[str, Any]:
        return self._within(
            "orchard", name="Round", walk_on=TODAY, made_by=self.user, made_at=NOW
        )

    def _roundstop(self) -> dict[str, Any]:
        return self._within("round", tree=self.add("tree"), position=next(_numbers))

    def _inspection(self) -> dict[str, Any]:
        return self._observed("tree", seen_on=TODAY, seen_at=NOW, made_at=NOW)

    def _finding(self) -> dict[str, Any]:
        return self._within(
            "inspection", "tree", sign="sucker", verdict="act", rule="r", edition="e"
        )

    def _secondlook(self) -> dict[str, Any]:
        return self._within("orchard", finding=self.add("finding"), asked_at=NOW)

    def _stagenote(self) -> dict[str, Any]:
        return self._observed("tree", bbch=65, seen_on=TODAY)

    def _happening(self) -> dict[str, Any]:
        return self._observed("tree", what="staked", happened_on=TODAY)

    def _case(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            "tree",
            "finding",
            sign=f"sign {next(_numbers)}",
            opened_at=NOW,
            opened_by=self.user,
        )

    def _casecall(self) -> dict[str, Any]:
        return self._within(
            "case",
            caller="Vera",
            called="The authority",
            called_at=NOW,
            summary="They come tomorrow",
            by=self.user,
            made_at=NOW,
        )

    def _careplan(self) -> dict[str, Any]:
        return self._within("orchard", job=f"job {next(_numbers)}", set_at=NOW)

    def _task(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            "tree",
            kind="care",
            rank=2,
            key=f"key {next(_numbers)}",
            occurrence=str(next(_numbers)),
            title="Work",
            opens_on=TODAY,
            due_on=TODAY,
            rhythm_days=1,
            made_at=NOW,
        )

    def _taskrequest(self) -> dict[str, Any]:
        return self._within("orchard", by=self.user, made_at=NOW, title="Paint stakes")

    def _closure(self) -> dict[str, Any]:
        return {
            "task": self.add("task"), "how": "done", "done_on": TODAY, "closed_at": NOW
        }  # fmt: skip

    def _bulkchange(self) -> dict[str, Any]:
        return {
            "orchard": self.add("orchard"), "by": self.add("user"), "made_at": NOW,
            "deed": "take", "before": {},
        }  # fmt: skip

    def _cuttest(self) -> dict[str, Any]:
        return {"closure": self.add("closure"), "fruit_cut": 4, "fruit_spoilt": 1}

    def _photo(self) -> dict[str, Any]:
        return self._observed(
            sha256=f"{next(_numbers):064d}",
            file_format="JPEG",
            width=1,
            height=1,
            size_bytes=1,
        )

    def _photoconsent(self) -> dict[str, Any]:
        return self._within(
            "photo", person="Ann", use="talks", given_on=TODAY, noted_by=self.user,
            noted_at=NOW,
        )  # fmt: skip

    def _talkset(self) -> dict[str, Any]:
        return self._within(
            "orchard", title="Citrus", by=self.user, made_at=NOW, changed_at=NOW
        )

    def _slide(self) -> dict[str, Any]:
        return {
            "talk_set": self.get("talkset"), "position": next(_numbers), "kind": "text"
        }  # fmt: skip

    def _slidephoto(self) -> dict[str, Any]:
        return self._within("slide", photo=self.add("photo"), position=1)

    def _talkstep(self) -> dict[str, Any]:
        return {
            "talk_set": self.get("talkset"), "by": self.user, "made_at": NOW,
            "deed": "add", "before": {},
        }  # fmt: skip

    def _photolink(self) -> dict[str, Any]:
        return {"photo": self.add("photo"), "tree": self.get("tree")}

    def _ripenesstest(self) -> dict[str, Any]:
        return self._observed("tree", tested_on=TODAY, fruits=5, taste=3)

    def _soil(self) -> dict[str, Any]:
        return self._within(
            "orchard", sort="loam", cover="bare", by=self.user, set_at=NOW
        )

    def _crown(self) -> dict[str, Any]:
        return self._observed("tree", measured_on=TODAY, width_m=2.0)

    def _watering(self) -> dict[str, Any]:
        return self._observed("tree", given_on=TODAY, litres=20.0)

    def _horizon(self) -> dict[str, Any]:
        return self._observed("spot", surveyed_on=TODAY, points=[[0, 5]])

    def _directsun(self) -> dict[str, Any]:
        return {
            "horizon": self.add("horizon"),
            "year": TODAY.year,
            "latitude": 38.4,
            "longitude": -8.6,
            "hours": [6.0] * 12,
        }

    def _change(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            "tree",
            at=NOW,
            verb="plant",
            subject_type="tree",
            subject_id=1,
            subject_label="tree",
        )

    def _receipt(self) -> dict[str, Any]:
        return self._observed(
            key=f"00000000-0000-4000-8000-{next(_numbers):012d}",
            body_hash="0",
            kind="photo",
            subject_id=1,
            made_at=NOW,
        )

    def _houserule(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            sign=f"sign {next(_numbers)}",
            rules=[],
            reason="Because",
            starts_on=TODAY,
            author=self.user,
            written_at=NOW,
        )

    def _station(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            name=f"Station {next(_numbers)}",
            source="itself",
            made_by=self.user,
            made_at=NOW,
        )

    def _intake(self) -> dict[str, Any]:
        return self._within(
            "orchard",
            "station",
            sort="days",
            file_name="days.csv",
            by=self.user,
            taken_at=NOW,
        )

    def _weatherday(self) -> dict[str, Any]:
        return {
            "station": self.get("station"),
            "on": TODAY + timedelta(days=next(_numbers)),
            "by": self.user,
            "received_at": NOW,
        }

    def _reading(self) -> dict[str, Any]:
        return self._observed(what="now", at=NOW, on=TODAY, celsius=10.0)

    def _forecast(self) -> dict[str, Any]:
        return self._observed(for_on=TODAY, made_at=NOW, source="somebody")

    def _product(self) -> dict[str, Any]:
        return {
            "orchard": self.get("orchard"),
            "kind": "oil",
            "name": f"Oil {next(_numbers)}",
            "checked_on": TODAY,
            "by": self.user,
            "received_at": NOW,
        }

    def _treatment(self) -> dict[str, Any]:
        return self._observed(
            kind="oil", started_at=NOW - timedelta(hours=1), ended_at=NOW
        )

    def _productuse(self) -> dict[str, Any]:
        return self._within("treatment", product=self.add("product"))

    def _treatedtree(self) -> dict[str, Any]:
        return self._within(
            "orchard", "treatment", tree=self.add("tree"), reach="treated"
        )

    def _drycheck(self) -> dict[str, Any]:
        return self._observed("treatment", dry_at=NOW, qualified="Licence 7")

    def _wetspell(self) -> dict[str, Any]:
        return self._observed(
            cause="rain", began_at=NOW, ended_at=NOW + timedelta(hours=1)
        )

    def _harvest(self) -> dict[str, Any]:
        return self._observed(part="fruit", lot=f"lot {next(_numbers)}", picked_at=NOW)

    def _harvestedtree(self) -> dict[str, Any]:
        return self._within("harvest", tree=self.add("tree"), kg=2.0)

    def _harvestshare(self) -> dict[str, Any]:
        return self._observed("harvest", use="tasting", given_on=TODAY, kg=1.0)

    def _holdbreach(self) -> dict[str, Any]:
        return self._observed(
            "tree", "closure", hold="No entry before 21:30", happened_at=NOW
        )

    def _recall(self) -> dict[str, Any]:
        return self._within(
            "orchard", "harvest", because="Wrong label", opened_at=NOW,
            opened_by=self.user,
        )  # fmt: skip

    def _recallcall(self) -> dict[str, Any]:
        return self._within(
            "recall", share=self.add("harvestshare"), called_at=NOW, by=self.user
        )

    def _practiceanswer(self) -> dict[str, Any]:
        return self._within(
            "orchard", sign="sucker", level="photo", answered_at=NOW, by=self.user
        )

    def _leaftest(self) -> dict[str, Any]:
        return self._observed(
            "tree", "kind", taken_on=TODAY, leaf_months=5.0, contents={"N": 2.5}
        )
