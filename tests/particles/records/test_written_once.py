"""A query written once asks what its queryset asks, each time for other keys."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest
from django.contrib.auth import get_user_model
from django.db import connection, transaction
from django.db.models import Exists, QuerySet
from django.db.transaction import TransactionManagementError

from batches.models import Batch, Cylinder
from batches.planning.models import Run
from particles.records.written_once import WrittenOnce, columns_of, row_of


def of_cylinder(cylinder: int, person: int) -> QuerySet[Any, Any]:
    named = get_user_model().objects.filter(pk=person, username="tomas")
    return Cylinder.objects.filter(pk=cylinder).annotate(is_tomas=Exists(named)).values("serial", "is_tomas")


@pytest.mark.django_db
def test_it_gives_the_rows_of_its_queryset_for_each_pair_of_keys(
    bench: Any, technician: Any, clerk: Any, django_assert_num_queries: Any
) -> None:
    asked = WrittenOnce(of_cylinder, cylinder=-1, person=-2)
    for cylinder in bench.cylinders:
        for person in (technician, clerk):
            with django_assert_num_queries(1):
                rows = asked(cylinder=cylinder.pk, person=person.pk)
            assert rows == list(of_cylinder(cylinder.pk, person.pk))
            assert rows == [{"serial": cylinder.serial, "is_tomas": person == technician}]
    assert asked(cylinder=0, person=technician.pk) == []


@pytest.mark.django_db
def test_a_row_of_it_is_the_row_of_the_model(bench: Any, django_assert_num_queries: Any) -> None:
    every = WrittenOnce(lambda key: Cylinder.objects.filter(pk=key).values(*columns_of(Cylinder)), key=-1)
    one = bench.cylinders[2]
    one.refresh_from_db()
    [found] = every(key=one.pk)
    with django_assert_num_queries(0):
        made = row_of(Cylinder, found)
        assert made == one
        assert [getattr(made, name) for name in columns_of(Cylinder)] == [
            getattr(one, name) for name in columns_of(Cylinder)
        ]


@pytest.mark.django_db
def test_a_key_that_it_does_not_ask_for_is_a_mistake() -> None:
    with pytest.raises(AssertionError, match="does not ask for"):
        WrittenOnce(lambda key, other: Run.objects.filter(pk=key).values("pk"), key=-1, other=UUID(int=1))(
            key=1, other=UUID(int=2)
        )


@pytest.mark.django_db(transaction=True)
def test_no_batch_is_locked_outside_a_transaction() -> None:
    with transaction.atomic(), pytest.raises(Batch.DoesNotExist):
        Batch.locked(1)
    assert connection.get_autocommit()
    with pytest.raises(TransactionManagementError, match="inside a transaction only"):
        Batch.locked(1)
