from django.urls import path

from keyctl.keys.views import acts, cabinets, lists, people, register, rules

app_name = "keys"
urlpatterns = [
    path("", lists.desk, name="desk"),
    path("law/", lists.law, name="law"),
    path("copies/<uuid:pk>/", lists.copy, name="copy"),
    path("copies/<uuid:pk>/hand-out/", acts.hand_out, name="hand-out"),
    path("copies/<uuid:pk>/take-back/", acts.take_back, name="take-back"),
    path("copies/<uuid:pk>/transfer/", acts.transfer, name="transfer"),
    path("copies/<uuid:pk>/found/", acts.found, name="found"),
    path("copies/<uuid:pk>/move/", acts.move, name="move"),
    path("copies/<uuid:pk>/lost/", acts.lost, name="lost"),
    path("copies/<uuid:pk>/broken/", acts.broken, name="broken"),
    path("copies/<uuid:pk>/destroy/", acts.destroy, name="destroy"),
    path("symbols/<uuid:pk>/cuts/", lists.drawing, name="drawing"),
    path("sites/<uuid:pk>/cut/", acts.cut, name="cut"),
    path("sites/<uuid:pk>/new-holder/", people.new_holder, name="new-holder"),
    path("holders/<uuid:pk>/", people.holder, name="holder"),
    path("holders/<uuid:pk>/change/", people.change_holder, name="change-holder"),
    path("holders/<uuid:pk>/end/", people.deactivate, name="deactivate-holder"),
    path("holders/<uuid:pk>/again/", people.reactivate, name="reactivate-holder"),
    path("cabinets/", cabinets.cabinets, name="cabinets"),
    path("cabinets/<uuid:pk>/", cabinets.cabinet, name="cabinet"),
    path("cabinets/<uuid:pk>/move/", cabinets.move_copies, name="move-copies"),
    path("cabinets/<uuid:pk>/name/", cabinets.rename_cabinet, name="rename-cabinet"),
    path("cabinets/<uuid:pk>/custodian/", cabinets.change_custodian, name="change-custodian"),
    path("sites/<uuid:pk>/new-cabinet/", cabinets.new_cabinet, name="new-cabinet"),
    path("register/", register.register, name="register"),
    path("acts/<uuid:pk>/", register.act, name="handover"),
    path("deposits/", register.deposits, name="deposits"),
    path("deposits/<uuid:pk>/give-back/", register.give_back_deposit, name="give-back-deposit"),
    path("deposits/<uuid:pk>/keep/", register.keep_deposit, name="keep-deposit"),
    path("rules/", rules.rules, name="rules"),
    path("rules/<uuid:pk>/", rules.site_rules, name="site-rules"),
    path("rules/<uuid:pk>/terms/", rules.new_terms, name="new-terms"),
]
