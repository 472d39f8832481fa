"""Addresses of jobs, bags, corrections and clients."""

from django.urls import path

from particles.clients import views as clients
from particles.corrections import views as corrections
from particles.laboratory import views as laboratory
from particles.permits import views as permits
from particles.receiving import views as new_job
from particles.receiving import views as receiving
from particles.receiving import views as sample_acts

app_name = "particles"

urlpatterns = [
    path("arrivals/", receiving.arrivals, name="arrivals"),
    path("jobs/new/", new_job.job_new, name="job_new"),
    path("jobs/<str:number>/", receiving.job, name="job"),
    path("jobs/<str:number>/acknowledgement/", receiving.acknowledgement, name="job_acknowledgement"),
    path("jobs/<str:number>/accept/", receiving.job_accept, name="job_accept"),
    path("jobs/<str:number>/correct/", corrections.correct_job, name="correct_job"),
    path("samples/<str:lab_number>/correct/", corrections.correct_sample, name="correct_sample"),
    path("samples/<str:lab_number>/accept/", sample_acts.sample_accept, name="sample_accept"),
    path("samples/<str:lab_number>/hold/", sample_acts.sample_hold, name="sample_hold"),
    path("samples/<str:lab_number>/refuse/", sample_acts.sample_refuse, name="sample_refuse"),
    path("clients/", clients.clients, name="clients"),
    path("clients/new/", clients.client_new, name="client_new"),
    path("clients/<int:pk>/correct/", corrections.correct_client, name="correct_client"),
    path("clients/<int:pk>/people/new/", clients.client_person_new, name="client_person_new"),
    path("laboratory/", laboratory.laboratory, name="laboratory"),
    path("laboratory/regulated/", permits.regulated_areas, name="regulated_areas"),
    path("laboratory/regulated/new/", permits.regulated_area_new, name="regulated_area_new"),
]
