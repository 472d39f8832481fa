from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse

from particles.models import Job


@pytest.mark.django_db(transaction=True)
def test_two_clicks_at_the_same_moment_make_one_job(at: Any, clerk: Any, job_form: Any) -> None:
    cookies, form, together = at(clerk).cookies, job_form(), Barrier(4)

    def click() -> str:
        browser = Browser()
        browser.cookies = cookies
        together.wait(timeout=20)
        try:
            return browser.post(reverse("particles:job_new"), form)["Location"]
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as hands:
        places = {click.result() for click in [hands.submit(click) for _ in range(4)]}
    assert Job.objects.count() == 1
    assert places == {reverse("particles:job", args=[Job.objects.get().number])}
