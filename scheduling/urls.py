"""The pages and API of scheduling, by path."""

from typing import Any

from django.urls import URLPattern, URLResolver, include, path

from scheduling.api import asks as api_asks
from scheduling.api import day as api_day
from scheduling.api import proposals as api_weeks
from scheduling.api import rounds as api
from scheduling.views import (
    areas,
    asks,
    book,
    bookings,
    driving,
    due,
    feeds,
    handling,
    hours,
    pieces,
    proposals,
    reminders,
    rounds,
    slots,
    today,
    underway,
    weights,
)

app_name = "scheduling"

round_urls: list[URLPattern | URLResolver] = [
    path("", rounds.rounds, name="rounds"),
    path("book/", book.book, name="book"),
    path("<uuid:pk>/", rounds.round_page, name="round"),
    path("<uuid:pk>/best-order/", rounds.best_order, name="best_order"),
    path("<uuid:pk>/sheet/", underway.round_sheet, name="round_sheet"),
    path("<uuid:pk>/sheet.pdf", underway.round_sheet_pdf, name="round_sheet_pdf"),
    path("<uuid:pk>/off/", underway.left_home, name="left_home"),
    path("<uuid:pk>/home/", underway.home_again, name="home_again"),
    path("<uuid:pk>/tell/", underway.tell_late, name="tell_late"),
    path("<uuid:pk>/told/", underway.told, name="told"),
]

booking_urls: list[URLPattern | URLResolver] = [
    path("<uuid:pk>/", bookings.booking_page, name="booking"),
    path("<uuid:pk>/attend/", bookings.attend, name="attend"),
    path("<uuid:pk>/there/", underway.arrived, name="arrived"),
    path("<uuid:pk>/left/", underway.left, name="left"),
    path("<uuid:pk>/late/", underway.late, name="late"),
    path("<uuid:pk>/leave-out/", underway.skip, name="skip"),
    path("<uuid:pk>/move/", bookings.reschedule, name="reschedule"),
    path("<uuid:pk>/call-off/", bookings.call_off, name="call_off"),
    path("<uuid:pk>/up/", bookings.move, {"way": "up"}, name="move_up"),
    path("<uuid:pk>/down/", bookings.move, {"way": "down"}, name="move_down"),
]

# Pieces of pages below: what is booked, for those who look from there.
piece_urls: list[URLPattern | URLResolver] = [
    path("of-horse/<int:pk>/", pieces.horse_bookings, name="horse_bookings"),
    path("at-barn/<int:pk>/", pieces.barn_upcoming, name="barn_upcoming"),
    path("of-mine/<int:pk>/", pieces.my_next_visit, name="my_next_visit"),
]

driving_urls: list[URLPattern | URLResolver] = [
    path("", driving.driving, name="driving"),
    path("pace/", driving.set_pace, name="set_pace"),
    path("map/", driving.road_map, name="road_map"),
    path("map/progress/", driving.road_map_progress, name="road_map_progress"),
    path("map/<uuid:pk>/drop/", driving.drop_map, name="drop_road_map"),
    path("ask-anew/", driving.ask_anew, name="ask_anew"),
    path("driven/<int:pk>/odometer/", driving.odometer, name="odometer"),
    path("learning/", driving.learning, name="learning"),
    path("learning/<int:pk>/take/", driving.take_lesson, name="take_lesson"),
    path(
        "learning/<int:pk>/of-horse/<int:horse>/take/",
        driving.take_horse_lesson,
        name="take_horse_lesson",
    ),
    path("drives/<int:pk>/<str:way>/", driving.leave_out, name="leave_drive_out"),
]

area_urls: list[URLPattern | URLResolver] = [
    path("", areas.area_years, name="areas"),
    path("propose/", areas.propose_areas, name="propose_areas"),
    path("draw/", areas.draw_area, name="draw_area"),
    path("pin/", areas.pin_map, name="pin_map"),
    path("at-barn/<int:pk>/", areas.areas_round_piece, name="areas_round"),
    path("at-barn/<int:pk>/<int:area>/", areas.take_in, name="take_in"),
    path("new-client/", areas.newcomer, name="newcomer"),
]

handling_urls: list[URLPattern | URLResolver] = [
    path("of-horse/<int:pk>/", handling.horse_handling, name="horse_handling"),
    path("at-barn/<int:pk>/", handling.barn_times, name="barn_times"),
    path("at-barn/<int:pk>/closed/", handling.close_barn, name="close_barn"),
    path("closed/<int:pk>/open/", handling.open_barn, name="open_barn"),
    path("at-barn/<int:pk>/shown/", handling.barn_times_piece, name="barn_times_piece"),
]

hour_urls: list[URLPattern | URLResolver] = [
    path("", hours.hours, name="hours"),
    path("<int:pk>/", hours.usual_days, name="usual_days"),
    path("<int:pk>/days/", hours.working_day, name="working_day"),
    path("<int:pk>/days/<str:day>/as-usual/", hours.as_usual, name="as_usual"),
    path("<int:pk>/nights/", hours.night_away, name="night_away"),
    path(
        "<int:pk>/nights/<str:day>/at-home/", hours.night_at_home, name="night_at_home"
    ),
    path("<int:pk>/calendar/", feeds.renew, name="renew_feed"),
    path("<int:pk>/calendar/shut/", feeds.revoke, name="revoke_feed"),
]

reminder_urls: list[URLPattern | URLResolver] = [
    path("", reminders.reminders, name="reminders"),
    path("settings/", reminders.reminder_settings, name="reminder_settings"),
    path("of-client/<int:pk>/", reminders.client_reminders, name="client_reminders"),
    path(
        "of-client/<int:pk>/called/", reminders.reminder_called, name="reminder_called"
    ),
    path("stop/<str:token>/", reminders.stop_reminders, name="stop_reminders"),
]

# Weeks proposed, and what is asked of owners about them.
proposal_urls: list[URLPattern | URLResolver] = [
    path("", proposals.propose, name="propose"),
    path("<uuid:pk>/", proposals.proposal, name="proposal"),
    path("<uuid:pk>/progress/", proposals.progress, name="proposal_progress"),
    path("<uuid:pk>/stop/", proposals.stop, name="proposal_stop"),
    path("<uuid:pk>/drop/", proposals.drop, name="proposal_drop"),
    path("<uuid:pk>/costs/", proposals.costs, name="proposal_costs"),
    path("<uuid:pk>/move/", proposals.move, name="proposal_move"),
    path("<uuid:pk>/accept/", proposals.accept, name="proposal_accept"),
    path("<uuid:pk>/steps/<int:step>/undo/", proposals.undo, name="proposal_undo"),
]

ask_urls: list[URLPattern | URLResolver] = [
    path("", asks.ask, name="ask"),
    path("answers/", asks.answers, name="answers"),
    path("mine/", asks.my_asks, name="my_asks"),
    path("<int:pk>/", asks.answer, name="answer"),
    path("<int:pk>/take/", asks.take_wish, name="take_wish"),
    path("call-off/<uuid:pk>/", asks.my_call_off, name="my_call_off"),
]

MANY: dict[str, Any] = {"get": "list", "post": "create"}
api_urls: list[URLPattern | URLResolver] = [
    path("due/", api.Due.as_view({"get": "list"}), name="api_due"),
    path("rounds/", api.Rounds.as_view(MANY), name="api_rounds"),
    path(
        "rounds/<uuid:pk>/", api.Rounds.as_view({"get": "retrieve"}), name="api_round"
    ),
    path(
        "bookings/<uuid:pk>/attend/",
        api.Attend.as_view({"post": "create"}),
        name="api_attend",
    ),
    path(
        "bookings/<uuid:pk>/call-off/",
        api.CallOff.as_view({"post": "create"}),
        name="api_call_off",
    ),
]

ONE: dict[str, Any] = {"get": "retrieve"}
POST: dict[str, Any] = {"post": "create"}
LIST: dict[str, Any] = {"get": "list"}
api_urls += [
    path("rounds/<uuid:pk>/off/", api_day.LeftHome.as_view(POST), name="api_off"),
    path("rounds/<uuid:pk>/home/", api_day.HomeAgain.as_view(POST), name="api_home"),
    path("rounds/<uuid:pk>/news/", api_day.News.as_view(MANY), name="api_news"),
    path("rounds/<uuid:pk>/told/", api_day.Told.as_view(POST), name="api_told"),
    path("bookings/<uuid:pk>/there/", api_day.There.as_view(POST), name="api_there"),
    path("bookings/<uuid:pk>/leave/", api_day.Leave.as_view(POST), name="api_leave"),
    path("bookings/<uuid:pk>/late/", api_day.Late.as_view(POST), name="api_late"),
    path(
        "bookings/<uuid:pk>/leave-out/",
        api_day.LeaveOut.as_view(POST),
        name="api_leave_out",
    ),
    path("bookings/<uuid:pk>/ask/", api_asks.AskAbout.as_view(POST), name="api_ask"),
    path("asks/", api_asks.Asks.as_view(LIST), name="api_asks"),
    path("asks/<int:pk>/", api_asks.Asks.as_view(ONE), name="api_asked"),
    path("asks/<int:pk>/days/", api_asks.AskDays.as_view(LIST), name="api_ask_days"),
    path("asks/<int:pk>/answer/", api_asks.AnswerAsk.as_view(POST), name="api_answer"),
    path("asks/<int:pk>/take/", api_asks.TakeWish.as_view(POST), name="api_take"),
    path("proposals/", api_weeks.Proposals.as_view(MANY), name="api_proposals"),
    path(
        "proposals/<uuid:pk>/",
        api_weeks.Proposals.as_view({"get": "retrieve", "delete": "destroy"}),
        name="api_proposal",
    ),
    path(
        "proposals/<uuid:pk>/stop/",
        api_weeks.StopProposal.as_view(POST),
        name="api_proposal_stop",
    ),
    path(
        "proposals/<uuid:pk>/costs/",
        api_weeks.ProposalCosts.as_view(LIST),
        name="api_proposal_costs",
    ),
    path(
        "proposals/<uuid:pk>/move/",
        api_weeks.MoveStop.as_view(POST),
        name="api_proposal_move",
    ),
    path(
        "proposals/<uuid:pk>/accept/",
        api_weeks.AcceptProposal.as_view(POST),
        name="api_accept",
    ),
    path(
        "proposals/<uuid:pk>/undo/",
        api_weeks.UndoStep.as_view(POST),
        name="api_proposal_undo",
    ),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("today/", today.today, name="today"),
    path("due/", due.due, name="due"),
    path("rounds/", include(round_urls)),
    path("rounds/free/<int:farrier>/<str:day>/", slots.slot, name="slot"),
    path("proposals/", include(proposal_urls)),
    path("asks/", include(ask_urls)),
    path("asked/<str:token>/", asks.asked, name="asked"),
    path("bookings/", include([*booking_urls, *piece_urls])),
    path("hours/", include(hour_urls)),
    path("weights/", weights.weights, name="weights"),
    path("weights/examples/", weights.weight_examples, name="weight_examples"),
    path("weights/as-usual/", weights.usual_weights, name="usual_weights"),
    path("handling/", include(handling_urls)),
    path("driving/", include(driving_urls)),
    path("areas-served/", include(area_urls)),
    path("reminders/", include(reminder_urls)),
    path("api/v1/", include(api_urls)),
    path("feeds/<str:token>.ics", feeds.feed, name="feed"),
]
