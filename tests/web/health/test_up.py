from __future__ import annotations

from django.db import DatabaseError, connection
from django.urls import reverse


def test_the_health_check_asks_the_database_and_nothing_else(
    client, db, django_assert_num_queries
):
    with django_assert_num_queries(1):
        response = client.get(reverse("up"))
    assert response.status_code == 200
    assert response.content == b"ok\n"
    assert not response.cookies


def test_a_database_that_does_not_answer_is_told_without_details(
    client, db, monkeypatch
):
    def gone():
        raise DatabaseError("password authentication failed for user orchard")

    with monkeypatch.context() as patched:
        patched.setattr(connection, "cursor", gone)
        response = client.get(reverse("up"))
    assert response.status_code == 503
    assert response.content == b"down\n"
