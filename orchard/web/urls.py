"""The site map: every URL of the project on one page."""

from __future__ import annotations

from django.conf import settings
from django.contrib import admin
from django.urls import include, path
from django.views.i18n import JSONCatalog

from orchard.web.views import (
    account,
    board,
    cases,
    computed,
    guide,
    happenings,
    home,
    house_rules,
    inbox,
    inspections,
    ledger,
    look,
    moves,
    offline,
    outlook,
    people,
    photos,
    places,
    public,
    register,
    ripeness,
    rounds,
    second_looks,
    sign_in,
    stages,
    strays,
    sun,
    tags,
    tree_page,
    trees,
    up,
    watering,
    weather,
    weather_file,
    work,
)

# Under /<orchard>/
orchard_urls = [
    # home
    path("", home.home, name="home"),
    path("board/", board.board, name="board"),
    path("ledger/", ledger.ledger, name="ledger"),
    # trees
    path("trees/", trees.index, name="trees"),
    path("trees/new/", trees.new, name="tree-new"),
    path("trees/<str:code>/", tree_page.show, name="tree-show"),
    path("trees/<str:code>/timeline/", tree_page.timeline_part, name="tree-timeline"),
    path("trees/<str:code>/details/", trees.details, name="tree-details"),
    path("trees/<str:code>/spot/", trees.spot, name="tree-spot"),
    path("trees/<str:code>/state/", trees.state, name="tree-state"),
    path("trees/<str:code>/removal/", trees.removal, name="tree-removal"),
    path("trees/<str:code>/replacement/", trees.replacement, name="tree-replacement"),
    path("trees/<str:code>/tag/", trees.tag, name="tree-tag"),
    path("trees/<str:code>/events/", happenings.new, name="event-new"),
    path("trees/<str:code>/stages/", happenings.new_stage, name="stage-new"),
    path("trees/<str:code>/all-well/", inspections.all_well, name="tree-all-well"),
    path("trees/<str:code>/inspections/new/", inspections.new, name="inspection-new"),
    path(
        "trees/<str:code>/inspections/signs/<str:sign>/",
        inspections.sign_card,
        name="inspection-sign",
    ),
    # inspections
    path("inspections/<int:number>/", inspections.show, name="inspection-show"),
    path(
        "inspections/<int:number>/correction/",
        inspections.correction,
        name="inspection-correction",
    ),
    path(
        "inspections/<int:number>/withdrawal/",
        inspections.withdrawal,
        name="inspection-withdrawal",
    ),
    path("inspections/<int:number>/move/", moves.move, name="inspection-move"),
    # rounds
    path("rounds/", rounds.index, name="rounds"),
    path("rounds/new/", rounds.new, name="round-new"),
    path("rounds/<int:number>/", rounds.show, name="round-show"),
    path("rounds/<int:number>/order/", rounds.order, name="round-order"),
    path("rounds/<int:number>/taking/", rounds.taking, name="round-take"),
    path("rounds/<int:number>/handing/", rounds.handing, name="round-handing"),
    path("rounds/<int:number>/closure/", rounds.closure, name="round-closure"),
    path("rounds/<int:number>/pages/", rounds.pages, name="round-pages"),
    path("rounds/<int:number>/live/", rounds.live, name="round-live"),
    # photos without a record
    path("strays/", strays.index, name="strays"),
    path("strays/<uuid:name>/", strays.assign, name="stray-assign"),
    # findings and second looks
    path(
        "findings/<int:number>/override/",
        inspections.override,
        name="finding-override",
    ),
    path("second-looks/", second_looks.index, name="second-looks"),
    path("second-looks/<int:number>/", second_looks.answer, name="second-look"),
    # events and growth stages
    path("events/", happenings.new_for_orchard, name="orchard-event-new"),
    path(
        "events/<int:number>/correction/",
        happenings.correction,
        name="event-correction",
    ),
    path(
        "events/<int:number>/withdrawal/",
        happenings.withdrawal,
        name="event-withdrawal",
    ),
    path("stages/", stages.index, name="stages"),
    path(
        "stages/<int:number>/correction/",
        happenings.stage_correction,
        name="stage-correction",
    ),
    path(
        "stages/<int:number>/withdrawal/",
        happenings.stage_withdrawal,
        name="stage-withdrawal",
    ),
    # work
    path("tasks/<int:number>/", work.show, name="task-show"),
    path("tasks/<int:number>/closure/", work.closure, name="task-closure"),
    path("tasks/<int:number>/reopening/", work.reopening, name="task-reopening"),
    path("tasks/<int:number>/taking/", work.taking, name="task-taking"),
    path("tasks/<int:number>/handing/", work.handing, name="task-handing"),
    path("care/", work.care_plan, name="care-plan"),
    path("care/<str:job>/", work.care_job, name="care-job"),
    # weather
    path("weather/", weather.index, name="weather"),
    path("weather/file/", weather_file.upload, name="weather-file"),
    path("weather/readings/", weather.reading, name="reading-new"),
    path(
        "weather/readings/<int:number>/withdrawal/",
        weather.reading_withdrawal,
        name="reading-withdrawal",
    ),
    path("weather/forecasts/", weather.forecast, name="forecast-new"),
    # places
    path("details/", places.details, name="orchard-details"),
    path("blocks/", places.blocks, name="blocks"),
    path("blocks/<str:code>/", places.block, name="block-show"),
    path("kinds/", places.kinds, name="kinds"),
    path("kinds/<int:number>/", places.kind, name="kind-show"),
    path("register/", register.upload, name="register"),
    path("register/example/", register.example, name="register-example"),
    path("tags/", tags.choose, name="tags"),
    path("tags/sheet/", tags.sheet, name="tag-sheet"),
    # the guide and its rules
    path("guide/", guide.index, name="guide"),
    path("guide/<str:sign>/", guide.show, name="guide-sign"),
    path("house-rules/", house_rules.index, name="house-rules"),
    path("house-rules/<str:sign>/", house_rules.show, name="house-rule"),
    path(
        "house-rules/<str:sign>/lifting/",
        house_rules.lifting,
        name="house-rule-lifting",
    ),
    path("pests/", house_rules.pests, name="pests"),
    # the outlook
    path("outlook/", outlook.index, name="outlook"),
    path("outlook/frost/", outlook.frost_night, name="outlook-frost"),
    path("outlook/frost/work/", outlook.frost_work, name="frost-work"),
    path("outlook/nights/", outlook.night, name="night-new"),
    path("outlook/heat/", outlook.heat_page, name="outlook-heat"),
    path("outlook/water/", outlook.water_page, name="outlook-water"),
    path("outlook/sun/", sun.index, name="outlook-sun"),
    path("outlook/ripeness/", ripeness.index, name="outlook-ripeness"),
    path("ripeness-tests/", ripeness.new, name="ripeness-test-new"),
    path(
        "ripeness-tests/<int:number>/correction/",
        ripeness.correction,
        name="ripeness-test-correction",
    ),
    path(
        "ripeness-tests/<int:number>/withdrawal/",
        ripeness.withdrawal,
        name="ripeness-test-withdrawal",
    ),
    path("soil/", outlook.soil, name="soil"),
    path("waterings/", watering.new, name="watering-new"),
    path(
        "waterings/<int:number>/correction/",
        watering.correction,
        name="watering-correction",
    ),
    path(
        "waterings/<int:number>/withdrawal/",
        watering.withdrawal,
        name="watering-withdrawal",
    ),
    path("trees/<str:code>/water/", watering.of_tree, name="tree-water"),
    path("trees/<str:code>/crown/", watering.crown, name="crown-new"),
    path(
        "crowns/<int:number>/withdrawal/",
        watering.crown_withdrawal,
        name="crown-withdrawal",
    ),
    path("spots/<int:number>/sun/", sun.show, name="spot-sun"),
    path("spots/<int:number>/horizon/", sun.horizon_new, name="horizon-new"),
    path(
        "horizons/<int:number>/withdrawal/", sun.withdrawal, name="horizon-withdrawal"
    ),
    path("computed/", computed.index, name="computed"),
    # photos
    path("photos/<uuid:name>/", photos.show, name="photo-show"),
    path("photos/<uuid:name>/withdrawal/", photos.withdrawal, name="photo-withdrawal"),
    path("photos/<uuid:name>/<str:size>/", photos.file, name="photo-file"),
    # cases
    path("cases/", cases.index, name="cases"),
    path("cases/<int:number>/", cases.show, name="case-show"),
    path("cases/<int:number>/closure/", cases.closure, name="case-closure"),
    # people
    path("people/", people.index, name="people"),
    path("people/invitations/", people.invite, name="invitation-new"),
    path(
        "people/invitations/<int:number>/withdrawal/",
        people.withdraw_invitation,
        name="invitation-withdrawal",
    ),
    path("people/<int:number>/role/", people.role, name="member-role"),
    path("people/<int:number>/leaving/", people.leaving, name="member-leaving"),
]

urlpatterns = [
    path("", home.start, name="start"),
    path("up/", up.up, name="up"),
    path("t/<str:token>/", public.tag, name="tag"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("password/forgotten/", sign_in.password_forgotten, name="password-forgotten"),
    path(
        "password/new/<str:uid>/<str:token>/",
        sign_in.password_new,
        name="password-new",
    ),
    path("join/<str:token>/", people.join, name="join"),
    path("inbox/", inbox.inbox_page, name="inbox"),
    path("outbox/", offline.outbox, name="outbox"),
    path("offline/", offline.offline, name="offline"),
    path("worker.js", offline.worker, name="worker"),
    path("manifest.webmanifest", offline.manifest, name="manifest"),
    path(
        "words.json",
        JSONCatalog.as_view(packages=["orchard.web"]),
        name="words",
    ),
    path("account/", account.account, name="account"),
    path("account/name/", account.name, name="account-name"),
    path("account/password/", account.password, name="account-password"),
    path(
        "account/orchards/<slug:orchard>/leaving/",
        account.leaving,
        name="account-leaving",
    ),
    # Before the back room: its own sign-in would pass the throttle by.
    path("admin/login/", sign_in.back_room_sign_in, name="back-room-sign-in"),
    path("admin/", admin.site.urls),
    path("<slug:orchard>/", include(orchard_urls)),
]

if settings.DEBUG:
    urlpatterns.insert(0, path("look/", look.look, name="look"))
