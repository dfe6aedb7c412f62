"""Asking owners and barn contacts, their answers, and the page behind a mailed link."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice, User
from scheduling.forms.asks import AnswerForm, AskForm, CallOffOwnForm, TakeWishForm
from scheduling.models import Ask, Booking, Proposal
from scheduling.selectors import asks as select
from scheduling.selectors.slots import Fit, days_that_fit, wish_of
from scheduling.services import answers as answering
from scheduling.services import asks as service


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def ask(request: HttpRequest) -> HttpResponse:
    """Bookings that are not agreed yet: whom each would ask, and what was answered."""
    viewer, today = access.member(request), timezone.localdate()
    proposal = _proposal(request)
    rows = list(select.to_ask(viewer=viewer, today=today, proposal=proposal))
    posted = request.method == "POST"
    form = AskForm(request.POST if posted else None, keys=[str(row.pk) for row in rows])
    if form.is_valid():
        return _asked(request, rows, form.cleaned_data["booking"], viewer)
    page = {
        "form": form,
        "proposal": proposal,
        "rows": [
            {"booking": row, "parties": service.parties_of(row), "asks": row.asks.all()}
            for row in rows[:60]
        ],
        "more": max(0, len(rows) - 60),
        "one": request.GET.get("booking", ""),
        "today": today,
    }
    return render(request, "scheduling/ask.html", page, status=422 if posted else 200)


def _proposal(request: HttpRequest) -> Proposal | None:
    try:
        key = UUID(request.GET.get("proposal", ""))
    except ValueError:
        return None
    found = Proposal.objects.visible_to(request.user).light().filter(pk=key)
    return found.first()


def _asked(
    request: HttpRequest, rows: list[Booking], keys: list[UUID], viewer: User
) -> HttpResponse:
    mails = calls = 0
    for row in rows:
        if row.pk not in keys:
            continue
        try:
            made = service.ask_about(booking=row, by=viewer)
        except Refused as refusal:
            messages.error(request, refusal.sentence)
            continue
        mails += sum(bool(one.email) for one in made)
        calls += sum(not one.email for one in made)
    if mails or calls:
        said = f"{mails} {'mail goes' if mails == 1 else 'mails go'} out."
        if calls:
            said += (
                f" {calls} without an e-mail address: telephone, and note the answer."
            )
        messages.success(request, said)
    return redirect("scheduling:answers")


@require_safe
@access.door(access.STAFF)
def answers(request: HttpRequest) -> HttpResponse:
    """Who was asked about days ahead, and who has answered what."""
    rows = list(
        select.answers(viewer=access.member(request), today=timezone.localdate())
    )
    wants = [
        one
        for one in rows
        if one.state in (Ask.State.OTHER_DAY, Ask.State.AWAY) and one.booking.is_open
    ]
    page = {
        "wants": wants,
        "open": [one for one in rows if one.is_open],
        "agreed": [one for one in rows if one.state == Ask.State.AGREED],
        "counts": select.counted(rows),
        "today": timezone.localdate(),
    }
    return render(request, "scheduling/answers.html", page)


@require_POST
@access.door(access.BOOKS)
def take_wish(request: HttpRequest, pk: int) -> HttpResponse:
    """Moves a booking to a day that an owner wished."""
    row = access.get(Ask.objects.visible_to(request.user).standing(), pk=pk)
    form = TakeWishForm(request.POST)
    if not form.is_valid():
        messages.error(request, str(next(iter(form.errors.values()))[0]))
        return redirect("scheduling:answers")
    day, farrier = form.cleaned_data["to"]
    try:
        booking = answering.take_wish(
            ask=row,
            day=day,
            farrier=access.get(User.objects.farriers(), pk=farrier),
            by=access.member(request),
            today=timezone.localdate(),
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"{booking.barn.name} is moved to {day:%A} {day.day} {day:%B}."
        )
    return redirect("scheduling:answers")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.STAFF | access.OWNER | access.BARN_CONTACT)
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """One ask: answered by whoever was asked, or noted by the practice."""
    found = Ask.objects.visible_to(request.user).standing()
    row = access.get(
        found.select_related("booking__barn", "booking__farrier", "client", "contact"),
        pk=pk,
    )
    viewer = access.member(request)
    if request.method == "POST" and viewer.is_of_practice and not viewer.keeps_books:
        return HttpResponse(status=403)
    return _answer(request, row, noted_by=viewer if viewer.is_of_practice else None)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.PUBLIC)
def asked(request: HttpRequest, token: str) -> HttpResponse:
    """The page behind a mailed link. Opening it changes nothing, since mail programs
    open links on their own; its buttons do."""
    row = service.ask_of(token)
    if row is None:
        return render(request, "scheduling/asked_over.html", status=404)
    return _answer(request, row, noted_by=None)


def _answer(request: HttpRequest, row: Ask, *, noted_by: User | None) -> HttpResponse:
    today, practice = timezone.localdate(), Practice.objects.the_one()
    wanted = request.POST.get("answer") or request.GET.get("answer", "")
    fits: list[Fit] = []
    if wanted == "other_day" and row.booking.is_open:
        fits = days_that_fit(booking=row.booking, practice=practice, today=today)
    posted = request.method == "POST"
    form = AnswerForm(
        request.POST if posted else None,
        days=[(fit.key, fit.words) for fit in fits],
        initial={"until": row.booking.day, "note": row.note},
    )
    # The button "Another day" only leads on to the days; the second one sends them.
    leads_on = wanted == "other_day" and "send" not in request.POST
    if posted and not leads_on and form.is_valid():
        try:
            said = _take(row, form.cleaned_data, fits, noted_by)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, said)
            if noted_by:
                return redirect("scheduling:answers")
            return redirect(request.path)
    failed = posted and not leads_on
    if leads_on:
        form = AnswerForm(
            days=[(fit.key, fit.words) for fit in fits], initial={"note": row.note}
        )
    page = {
        "ask": row,
        "booking": row.booking,
        "horses": service.horses_of(row),
        "form": form,
        "fits": fits,
        "wanted": wanted,
        "noted_by": noted_by,
        "today": today,
    }
    return render(request, "scheduling/asked.html", page, status=422 if failed else 200)


def _take(
    row: Ask, said: dict[str, Any], fits: list[Fit], noted_by: User | None
) -> str:
    if said["answer"] == "agree":
        answering.agree(ask=row, noted_by=noted_by)
        return "Thank you: the day is noted as agreed."
    if said["answer"] == "away":
        answering.away(
            ask=row,
            until=said["until"],
            today=timezone.localdate(),
            note=said["note"],
            noted_by=noted_by,
        )
        return "Thank you: noted. You will be asked again after that."
    if said["answer"] == "call_off":
        answering.call_off_own(ask=row, reason=said["note"], noted_by=noted_by)
        return "It is called off. Thank you for saying so."
    by_key = {fit.key: fit for fit in fits}
    answering.wish_other_day(
        ask=row,
        wishes=[wish_of(by_key[key]) for key in said["wish"]],
        note=said["note"],
        noted_by=noted_by,
    )
    return "Thank you: the farrier sees which days would suit, and tells you."


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.OWNER)
def my_call_off(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The owner's own horses out of a booking, asked by mail or not."""
    viewer = access.member(request)
    found = Booking.objects.visible_to(viewer).select_related("barn", "farrier")
    booking = access.get(found.exclude(status=Booking.Status.PENCILLED), pk=pk)
    assert viewer.client_id  # an owner's user points to a client
    horses = service.owned_in(booking=booking, client=viewer.client_id)
    form = CallOffOwnForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            answering.take_horses_off(
                booking=booking,
                horses=horses,
                reason=f"{viewer.name}: {form.cleaned_data['reason']}",
                by=viewer,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "It is called off. Thank you for saying so.")
            return redirect("horses:my_horses")
    page = {"booking": booking, "horses": horses, "form": form}
    status = 422 if form.errors else 200
    return render(request, "scheduling/my_call_off.html", page, status=status)


@require_safe
@access.door(access.OWNER | access.BARN_CONTACT)
def my_asks(request: HttpRequest) -> HttpResponse:
    """For the portal: what the viewer is asked, with the way to answer."""
    rows = select.mine(viewer=access.member(request), today=timezone.localdate())
    return render(request, "scheduling/_my_asks.html", {"asks": rows})
