"""The site as it is served, with one address more that does nothing but one INSERT."""

from labsite.settings import *  # noqa: F403

ROOT_URLCONF = "tests.support.fast_doors.server_urls"
