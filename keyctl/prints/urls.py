from django.urls import path

from keyctl.prints.views import evidence, incident, lists, places, sheets

app_name = "prints"
urlpatterns = [
    path("exports/", lists.register, name="exports"),
    path("exports/<uuid:pk>/make/", lists.make, name="make"),
    path("sites/<uuid:pk>/", places.site, name="site"),
    path("sites/<uuid:pk>/evidence/", evidence.evidence, name="evidence"),
    path("systems/<uuid:pk>/", lists.system, name="system"),
    path("losses/<uuid:pk>/", incident.incident, name="incident"),
    path("waves/<uuid:pk>/", sheets.wave_sheet, name="wave-sheet"),
    path("receipts/<uuid:pk>/", sheets.receipt, name="receipt"),
    path("orders/<uuid:pk>/pinning-sheet/", sheets.pinning_sheet, name="pinning-sheet"),
    path("orders/<uuid:pk>/batch-sheet/", sheets.batch_sheet, name="batch-sheet"),
    path("orders/<uuid:pk>/cutting-list/", sheets.cutting_list, name="cutting-list"),
]
