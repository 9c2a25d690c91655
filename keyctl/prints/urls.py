from django.urls import path

from keyctl.prints import evidence_views, export_views, incident_views, views

app_name = "prints"
urlpatterns = [
    path("exports/", export_views.register, name="exports"),
    path("exports/<uuid:pk>/make/", export_views.make, name="make"),
    path("sites/<uuid:pk>/evidence/", evidence_views.evidence, name="evidence"),
    path("systems/<uuid:pk>/", export_views.system, name="system"),
    path("losses/<uuid:pk>/", incident_views.incident, name="incident"),
    path("waves/<uuid:pk>/", views.wave_sheet, name="wave-sheet"),
    path("receipts/<uuid:pk>/", views.receipt, name="receipt"),
    path("orders/<uuid:pk>/pinning-sheet/", views.pinning_sheet, name="pinning-sheet"),
    path("orders/<uuid:pk>/batch-sheet/", views.batch_sheet, name="batch-sheet"),
    path("orders/<uuid:pk>/cutting-list/", views.cutting_list, name="cutting-list"),
]
