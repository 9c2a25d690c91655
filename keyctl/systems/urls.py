from django.urls import path

from keyctl.systems.views import capacity, drafts, extend, tree

app_name = "systems"
urlpatterns = [
    path("", tree.system_list, name="list"),
    path("drafts/new/", drafts.new, name="draft-new"),
    path("drafts/<uuid:pk>/", drafts.draft, name="draft"),
    path("drafts/<uuid:pk>/change/", drafts.change, name="draft-change"),
    path("drafts/<uuid:pk>/discard/", drafts.discard, name="draft-discard"),
    path("drafts/<uuid:pk>/make/", drafts.make, name="draft-make"),
    path("<uuid:pk>/", tree.detail, name="detail"),
    path("<uuid:pk>/capacity/", capacity.capacity, name="capacity"),
    path("keys/<uuid:pk>/below/", tree.children, name="children"),
    path("keys/<uuid:pk>/extend/", extend.extend, name="extend"),
]
