"""Addresses of certificates, charts, the client's pages and the programs' door."""

from django.urls import URLPattern, path

from reports.api import views as api
from reports.certificates import after_issue as amend
from reports.certificates import views as staff
from reports.charts import views as charts
from reports.check import views as check
from reports.portal import views as client

app_name = "reports"
urlpatterns: list[URLPattern] = [
    path("certificates/", staff.certificates, name="certificates"),
    path("jobs/<slug:number>/issue/", staff.issue, name="issue"),
    path("jobs/<slug:number>/issue-part/", staff.issue, {"in_part": True}, name="issue_part"),
    path("certificates/<slug:number>/", client.certificate, name="certificate"),
    path("certificates/<slug:number>/amend/", amend.amend, name="amend"),
    path("certificates/<slug:number>/withdraw/", amend.withdraw, name="withdraw"),
    path("samples/<str:lab_number>/again/", amend.again, name="again"),
    path("certificates/<slug:number>/<slug:kind>/", client.download, name="download"),
    path("my/", client.my_jobs, name="my_jobs"),
    path("my/<slug:number>/", client.my_job, name="my_job"),
    path("check/", check.ask, name="ask"),
    path("check/<slug:number>/", check.check, name="check"),
    path("charts/causes/<str:number>/<slug:key>/<int:pk>.json", charts.cause_chart, name="cause_chart"),
    path("charts/limits/<str:address>.json", charts.limits_chart, name="limits_chart"),
    path("charts/runs/<int:pk>/<slug:chart>.json", charts.run_chart, name="run_chart"),
    path(
        "charts/certificates/<slug:number>/<slug:lab_number>/<slug:chart>.json",
        charts.certificate_chart,
        name="certificate_chart",
    ),
    path("api/certificates/", api.certificates, name="api_certificates"),
    path("api/certificates/<slug:number>/", api.certificate, name="api_certificate"),
]
