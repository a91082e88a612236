from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from orchard.web.management.commands import tell_failure


def test_who_runs_the_server_is_mailed_the_end_of_the_log(
    settings, mailoutbox, monkeypatch, tmp_path
):
    settings.OPERATOR_EMAIL = "keeper@example.org"
    journal = tmp_path / "journalctl"
    journal.write_text('#!/bin/sh\necho "$2: KeyError: no such job"\n')
    journal.chmod(0o755)
    monkeypatch.setattr(tell_failure.shutil, "which", lambda name: str(journal))
    said = StringIO()
    call_command("tell_failure", "orchard-nightly.service", stdout=said)
    [mail] = mailoutbox
    assert mail.to == ["keeper@example.org"]
    assert mail.subject.startswith("orchard-nightly.service failed (http")
    assert "orchard-nightly.service: KeyError: no such job" in mail.body
    assert "Told keeper@example.org" in said.getvalue()


def test_with_nobody_to_tell_it_fails_in_words(settings, mailoutbox):
    settings.OPERATOR_EMAIL = ""
    with pytest.raises(CommandError, match="OPERATOR_EMAIL names nobody"):
        call_command("tell_failure", "orchard-nightly.service")
    assert mailoutbox == []
