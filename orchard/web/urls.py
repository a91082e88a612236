"""The site map: every URL of the project on one page."""

from __future__ import annotations

from django.conf import settings
from django.contrib import admin
from django.urls import include, path
from django.views.i18n import JSONCatalog

from orchard.web.pages import (
    accounts,
    audit,
    care_plan,
    cases,
    explained,
    feeding,
    frost,
    guide,
    harvests,
    health,
    heat,
    home,
    house_rules,
    imports,
    inbox,
    inspections,
    observations,
    offline,
    orchards,
    outlook,
    paper,
    photos,
    practice,
    ripeness,
    rounds,
    style_sheet,
    sun_hours,
    talks,
    tasks,
    treatments,
    trees,
    visitors,
    water,
    weather,
)

handler400 = "orchard.web.answers.unreadable"
handler404 = "orchard.web.answers.missing"

# Under /<orchard>/
orchard_urls = [
    # home
    path("", home.home, name="home"),
    path("first-day/", home.first_day, name="first-day"),
    path("paper/", paper.paper, name="paper"),
    path("board/", tasks.board, name="board"),
    path("board/new/", tasks.ask_for_task, name="task-new"),
    path("board/closed/", tasks.closed, name="closed-tasks"),
    path("board/print/", tasks.print_board, name="board-print"),
    path("board/taking/", tasks.take_chosen, name="board-taking"),
    path("board/done/", tasks.close_chosen, name="board-done"),
    path("board/skipping/", tasks.skip_chosen, name="board-skipping"),
    path("board/handing/", tasks.hand_over_chosen, name="board-handing"),
    path("board/moving/", tasks.move_chosen, name="board-moving"),
    path("board/undo/<int:number>/", tasks.undo_chosen, name="board-undo"),
    path("ledger/", audit.ledger, name="ledger"),
    path("ledger/export/", audit.ledger_export, name="ledger-export"),
    # trees
    path("trees/", trees.index, name="trees"),
    path("trees/new/", trees.new, name="tree-new"),
    path("trees/<str:code>/", trees.tree_page, name="tree-show"),
    path("trees/<str:code>/timeline/", trees.timeline_part, name="tree-timeline"),
    path("trees/<str:code>/details/", trees.details, name="tree-details"),
    path("trees/<str:code>/spot/", trees.spot, name="tree-spot"),
    path("trees/<str:code>/state/", trees.state, name="tree-state"),
    path("trees/<str:code>/removal/", trees.removal, name="tree-removal"),
    path("trees/<str:code>/replacement/", trees.replacement, name="tree-replacement"),
    path("trees/<str:code>/tag/", trees.tag, name="tree-tag"),
    path("trees/<str:code>/story/", visitors.tree_story, name="tree-story"),
    path("trees/<str:code>/events/", observations.note_event, name="event-new"),
    path("trees/<str:code>/stages/", observations.note_stage, name="stage-new"),
    path("trees/<str:code>/all-well/", inspections.all_well, name="tree-all-well"),
    path("trees/<str:code>/inspections/new/", inspections.new, name="inspection-new"),
    path(
        "trees/<str:code>/inspections/signs/<str:sign>/",
        inspections.sign_card,
        name="inspection-sign",
    ),
    # inspections
    path("inspections/", inspections.index, name="inspections"),
    path("inspections/blank/", inspections.blank, name="inspection-blank"),
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
    path(
        "inspections/<int:number>/move/",
        inspections.move_inspection,
        name="inspection-move",
    ),
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
    path("strays/", photos.unassigned_photos, name="strays"),
    path("strays/<uuid:name>/", photos.assign_photos, name="stray-assign"),
    # findings and second looks
    path(
        "findings/<int:number>/override/",
        inspections.override,
        name="finding-override",
    ),
    path("second-looks/mine/", inspections.my_second_looks, name="my-second-looks"),
    path("second-looks/", inspections.second_looks, name="second-looks"),
    path(
        "second-looks/<int:number>/", inspections.answer_second_look, name="second-look"
    ),
    # events and growth stages
    path("events/", observations.note_orchard_event, name="orchard-event-new"),
    path(
        "events/<int:number>/correction/",
        observations.correct_event,
        name="event-correction",
    ),
    path(
        "events/<int:number>/withdrawal/",
        observations.withdraw_event,
        name="event-withdrawal",
    ),
    path("stages/", observations.growth_stage_log, name="stages"),
    path(
        "stages/<int:number>/correction/",
        observations.correct_stage,
        name="stage-correction",
    ),
    path(
        "stages/<int:number>/withdrawal/",
        observations.withdraw_stage,
        name="stage-withdrawal",
    ),
    # work
    path("tasks/<int:number>/", tasks.show, name="task-show"),
    path(
        "tasks/asked/<int:number>/withdrawal/",
        tasks.withdraw,
        name="task-withdrawal",
    ),
    path("tasks/<int:number>/closure/", tasks.closure, name="task-closure"),
    path("tasks/<int:number>/reopening/", tasks.reopening, name="task-reopening"),
    path("tasks/<int:number>/taking/", tasks.taking, name="task-taking"),
    path("tasks/<int:number>/handing/", tasks.handing, name="task-handing"),
    path("care/", care_plan.care_plan, name="care-plan"),
    path("care/<str:job>/", care_plan.care_job, name="care-job"),
    # weather
    path("weather/", weather.index, name="weather"),
    path("weather/file/", imports.import_weather, name="weather-file"),
    path("weather/readings/", weather.reading, name="reading-new"),
    path(
        "weather/readings/<int:number>/withdrawal/",
        weather.reading_withdrawal,
        name="reading-withdrawal",
    ),
    path("weather/forecasts/", weather.forecast, name="forecast-new"),
    # places
    path("details/", orchards.details, name="orchard-details"),
    path("blocks/", trees.blocks, name="blocks"),
    path("blocks/<str:code>/", trees.block, name="block-show"),
    path("kinds/", trees.kinds, name="kinds"),
    path("kinds/<int:number>/", trees.kind, name="kind-show"),
    path("kinds/<int:number>/story/", visitors.kind_story, name="kind-story"),
    path("register/", imports.import_trees, name="register"),
    path("register/example/", imports.example_register, name="register-example"),
    path("tags/", trees.choose_tags, name="tags"),
    path("tags/sheet/", trees.tag_sheet, name="tag-sheet"),
    path("tags/codes/", trees.tag_codes, name="tag-codes"),
    # the guide and its rules
    path("guide/", guide.index, name="guide"),
    path("guide/words/", guide.words, name="glossary"),
    path("guide/practice/", practice.away, name="practice-away"),
    path("guide/<str:sign>/", guide.show, name="guide-sign"),
    path("house-rules/", house_rules.index, name="house-rules"),
    path("house-rules/<str:sign>/", house_rules.show, name="house-rule"),
    path(
        "house-rules/<str:sign>/lifting/",
        house_rules.lifting,
        name="house-rule-lifting",
    ),
    path("pests/", house_rules.pests, name="pests"),
    # treatments
    path("treatments/", treatments.index, name="treatments"),
    path("treatments/new/", treatments.choose_kind, name="treatment-choose"),
    path("treatments/new/<str:kind>/", treatments.new, name="treatment-new"),
    path(
        "treatments/plans/new/<str:kind>/",
        treatments.plan_new,
        name="treatment-plan-new",
    ),
    path("treatments/wet/", treatments.wet_spell, name="wet-spell-new"),
    path("treatments/register/", treatments.register, name="treatment-register"),
    path(
        "treatments/register/export/",
        treatments.register_export,
        name="treatment-register-export",
    ),
    path("treatments/<int:number>/", treatments.show, name="treatment-show"),
    path(
        "treatments/<int:number>/correction/",
        treatments.correction,
        name="treatment-correction",
    ),
    path(
        "treatments/<int:number>/withdrawal/",
        treatments.withdrawal,
        name="treatment-withdrawal",
    ),
    path("treatments/<int:number>/dry/", treatments.dry, name="dry-check-new"),
    path(
        "treatments/<int:number>/dry/<int:check>/withdrawal/",
        treatments.withdraw_dry,
        name="dry-check-withdrawal",
    ),
    path(
        "treatments/<int:number>/posting/",
        treatments.posting,
        name="treatment-posting",
    ),
    path(
        "treatments/<int:number>/trees/<str:code>/",
        treatments.adviser,
        name="treatment-adviser",
    ),
    path("products/", treatments.products, name="products"),
    path("products/new/<str:kind>/", treatments.product_new, name="product-new"),
    path("products/<int:number>/", treatments.product_show, name="product-show"),
    path(
        "products/<int:number>/correction/",
        treatments.product_correction,
        name="product-correction",
    ),
    path(
        "products/<int:number>/withdrawal/",
        treatments.product_withdrawal,
        name="product-withdrawal",
    ),
    # the outlook
    path("outlook/", outlook.index, name="outlook"),
    path("outlook/frost/", frost.frost_night, name="outlook-frost"),
    path("outlook/frost/work/", frost.frost_work, name="frost-work"),
    path("outlook/nights/", frost.night, name="night-new"),
    path("outlook/heat/", heat.heat_page, name="outlook-heat"),
    path("outlook/water/", water.water_schedule, name="outlook-water"),
    path("outlook/sun/", sun_hours.index, name="outlook-sun"),
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
    # harvests
    path("harvests/", harvests.index, name="harvests"),
    path("harvests/new/", harvests.new, name="harvest-new"),
    path("harvests/recalls/", harvests.recalls, name="recalls"),
    path("harvests/recalls/<int:number>/", harvests.recall_show, name="recall-show"),
    path("harvests/<int:number>/", harvests.show, name="harvest-show"),
    path("harvests/<int:number>/label/", harvests.label, name="harvest-label"),
    path(
        "harvests/<int:number>/correction/",
        harvests.correction,
        name="harvest-correction",
    ),
    path(
        "harvests/<int:number>/withdrawal/",
        harvests.withdrawal,
        name="harvest-withdrawal",
    ),
    path("harvests/<int:number>/shares/", harvests.share_new, name="share-new"),
    path(
        "harvests/<int:number>/recall/", harvests.recall_of_lot, name="harvest-recall"
    ),
    path(
        "treatments/<int:number>/recall/",
        harvests.recall_of_treatment,
        name="treatment-recall",
    ),
    path(
        "shares/<int:number>/correction/",
        harvests.share_correction,
        name="share-correction",
    ),
    path(
        "shares/<int:number>/withdrawal/",
        harvests.share_withdrawal,
        name="share-withdrawal",
    ),
    path("soil/", water.set_soil, name="soil"),
    path("waterings/", water.note_watering, name="watering-new"),
    path(
        "waterings/<int:number>/correction/",
        water.correct_watering,
        name="watering-correction",
    ),
    path(
        "waterings/<int:number>/withdrawal/",
        water.withdraw_watering,
        name="watering-withdrawal",
    ),
    path("trees/<str:code>/water/", water.water_of_tree, name="tree-water"),
    path("trees/<str:code>/feeding/", feeding.feeding_of_tree, name="tree-feeding"),
    path("leaf-tests/", feeding.leaf_tests, name="leaf-tests"),
    path("leaf-tests/set/", feeding.leaf_set, name="leaf-set"),
    path("leaf-tests/new/", feeding.leaf_test_new, name="leaf-test-new"),
    path("leaf-tests/<int:number>/", feeding.leaf_test_show, name="leaf-test-show"),
    path(
        "leaf-tests/<int:number>/correction/",
        feeding.leaf_test_correction,
        name="leaf-test-correction",
    ),
    path(
        "leaf-tests/<int:number>/withdrawal/",
        feeding.leaf_test_withdrawal,
        name="leaf-test-withdrawal",
    ),
    path("trees/<str:code>/crown/", water.measure_crown, name="crown-new"),
    path(
        "crowns/<int:number>/withdrawal/",
        water.withdraw_crown,
        name="crown-withdrawal",
    ),
    path("spots/<int:number>/sun/", sun_hours.show, name="spot-sun"),
    path("spots/<int:number>/horizon/", sun_hours.horizon_new, name="horizon-new"),
    path(
        "horizons/<int:number>/withdrawal/",
        sun_hours.withdrawal,
        name="horizon-withdrawal",
    ),
    path("computed/", explained.index, name="computed"),
    # photos
    path("photos/", photos.index, name="photos"),
    path("photos/chosen/", photos.chosen, name="photos-chosen"),
    path(
        "photos/chosen/consents/", photos.chosen_consents, name="photos-chosen-consents"
    ),
    path("photos/chosen/talk/", photos.chosen_talk, name="photos-chosen-talk"),
    path("photos/<uuid:name>/", photos.show, name="photo-show"),
    path("photos/<uuid:name>/withdrawal/", photos.withdrawal, name="photo-withdrawal"),
    path("photos/<uuid:name>/consents/", photos.note_consent, name="photo-consents"),
    path(
        "photos/<uuid:name>/consents/<int:number>/withdrawal/",
        photos.withdraw_consent,
        name="photo-consent-withdrawal",
    ),
    path("photos/<uuid:name>/<str:size>/", photos.file, name="photo-file"),
    # talks
    path("talks/", talks.index, name="talks"),
    path("talks/purposes/", talks.by_purpose, name="talk-purposes"),
    path("talks/<int:number>/", talks.show, name="talk-show"),
    path("talks/<int:number>/undo/", talks.undoing, name="talk-undo"),
    path("talks/<int:number>/emptying/", talks.emptying, name="talk-emptying"),
    path("talks/<int:number>/copies/", talks.copies, name="talk-copy"),
    path("talks/<int:number>/removal/", talks.removal, name="talk-removal"),
    path("talks/<int:number>/return/", talks.bringing_back, name="talk-return"),
    path("talks/<int:number>/photos/", talks.slide_photos, name="slide-photos"),
    path("talks/<int:number>/slides/", talks.slide_new, name="slide-new"),
    path("talks/<int:number>/slides/<int:slide>/", talks.slide_show, name="slide-show"),
    path(
        "talks/<int:number>/slides/<int:slide>/place/",
        talks.slide_place,
        name="slide-place",
    ),
    path(
        "talks/<int:number>/slides/<int:slide>/removal/",
        talks.slide_removal,
        name="slide-removal",
    ),
    path(
        "talks/<int:number>/slides/<int:slide>/photos/<int:place>/place/",
        talks.photo_place,
        name="slide-photo-place",
    ),
    path(
        "talks/<int:number>/slides/<int:slide>/photos/<int:place>/removal/",
        talks.photo_removal,
        name="slide-photo-removal",
    ),
    path("talks/<int:number>/deck/", talks.deck, name="talk-deck"),
    path("talks/<int:number>/pictures/", talks.pictures, name="talk-pictures"),
    path("talks/<int:number>/cards/", talks.cards, name="talk-cards"),
    path("talks/<int:number>/player/", talks.player, name="talk-player"),
    path("talks/<int:number>/handout/", talks.handout, name="talk-handout"),
    # practice
    path("practice/", practice.question, name="practice"),
    path("practice/<int:number>/", practice.answered, name="practice-answer"),
    path("practice/mixed-up/", practice.mixed_up, name="mix-ups"),
    # cases
    path("cases/", cases.index, name="cases"),
    path("cases/<int:number>/", cases.show, name="case-show"),
    path("cases/<int:number>/calls/", cases.note_call, name="case-call"),
    path("cases/<int:number>/closure/", cases.closure, name="case-closure"),
    # people
    path("people/", accounts.members, name="people"),
    path("people/invitations/", accounts.invite, name="invitation-new"),
    path(
        "people/invitations/<int:number>/withdrawal/",
        accounts.withdraw_invitation,
        name="invitation-withdrawal",
    ),
    path(
        "people/<int:number>/password/", accounts.password_link, name="member-password"
    ),
    path("people/<int:number>/role/", accounts.change_role, name="member-role"),
    path(
        "people/<int:number>/leaving/", accounts.end_membership, name="member-leaving"
    ),
]

urlpatterns = [
    path("", home.start, name="start"),
    path("up/", health.up, name="up"),
    path("t/<str:token>/", visitors.public_tag, name="tag"),
    path("visit/<slug:orchard>/", visitors.visit, name="visit"),
    path(
        "visit/photos/<uuid:name>/<str:size>/",
        visitors.public_photo,
        name="public-photo",
    ),
    path("sign-in/", accounts.SignInView.as_view(), name="sign-in"),
    path("sign-out/", accounts.SignOutView.as_view(), name="sign-out"),
    path(
        "password/forgotten/",
        accounts.PasswordForgottenView.as_view(),
        name="password-forgotten",
    ),
    path(
        "password/new/<str:uidb64>/<str:token>/",
        accounts.NewPasswordView.as_view(),
        name="password-new",
    ),
    path("join/<str:token>/", accounts.join, name="join"),
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
    path("account/", accounts.account, name="account"),
    path("account/name/", accounts.change_name, name="account-name"),
    path(
        "account/password/",
        accounts.ChangePasswordView.as_view(),
        name="account-password",
    ),
    path(
        "account/orchards/<slug:orchard>/leaving/",
        accounts.leave_orchard,
        name="account-leaving",
    ),
    # Before the back room: its own sign-in would pass the throttle by.
    path("admin/login/", accounts.back_room_sign_in, name="back-room-sign-in"),
    path("admin/", admin.site.urls),
    path("<slug:orchard>/", include(orchard_urls)),
]

handler500 = "orchard.web.pages.outages.server_error"

if settings.DEBUG:
    urlpatterns.insert(0, path("look/", style_sheet.look, name="look"))
