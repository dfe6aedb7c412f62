"""One booking: changed, moved in its round, attended, called off."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from horses.models import Horse
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from scheduling.forms.rounds import BookingForm, CallOffForm, RescheduleForm
from scheduling.models import Booking, Round
from scheduling.services import bookings as service
from scheduling.services.rounds import move_stop


def _booking(request: HttpRequest, pk: UUID) -> Booking:
    found = Booking.objects.visible_to(request.user).select_related(
        "barn", "farrier", "visit"
    )
    return access.get(found, pk=pk)


def _to_round(booking: Booking) -> HttpResponse:
    round_ = Round.objects.filter(farrier=booking.farrier, day=booking.day).first()
    if round_ is None:
        return redirect("scheduling:rounds")
    return redirect("scheduling:round", pk=round_.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def booking_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Standing, horses, note and typed minutes of a booking."""
    booking = _booking(request, pk)
    form = _form(request, booking, posted=request.method == "POST")
    if form.is_valid():
        try:
            service.change_booking(
                booking=booking,
                status=form.cleaned_data["status"],
                horses=list(form.cleaned_data["horse"]),
                note=form.cleaned_data["note"],
                typed_minutes=form.cleaned_data.get("typed_minutes"),
                by=access.member(request),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "The booking is changed.")
            return _to_round(booking)
    status = 422 if form.errors else 200
    return _booking_page(request, booking, form, _other_day(booking), status)


def _other_day(booking: Booking) -> RescheduleForm:
    now = {"day": booking.day, "farrier": booking.farrier_id}
    return RescheduleForm(initial=now, prefix="to")


def _form(request: HttpRequest, booking: Booking, *, posted: bool) -> BookingForm:
    first = {
        "status": booking.status,
        "horse": [row.horse_id for row in booking.booked.all()],
        "note": booking.note,
        "typed_minutes": booking.typed_minutes,
    }
    horses = Horse.objects.visible_to(request.user).active().filter(barn=booking.barn)
    return BookingForm(
        request.POST if posted else None,
        initial=first,
        horses=horses.order_by("name"),
        has_position=booking.barn.has_position,
    )


def _booking_page(
    request: HttpRequest,
    booking: Booking,
    form: BookingForm,
    other: RescheduleForm,
    status: int,
) -> HttpResponse:
    page = {
        "booking": booking,
        "form": form,
        "other": other,
        "asks": booking.asks.standing().select_related("client", "contact"),
    }
    return render(request, "scheduling/booking.html", page, status=status)


@require_POST
@access.door(access.BOOKS)
def reschedule(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Moves the booking to another day or farrier."""
    booking = _booking(request, pk)
    other = RescheduleForm(request.POST, prefix="to")
    if other.is_valid():
        try:
            round_ = service.reschedule(
                booking=booking,
                day=other.cleaned_data["day"],
                farrier=other.cleaned_data["farrier"],
                by=access.member(request),
                today=timezone.localdate(),
            )
        except Refused as refusal:
            say(other, refusal)
        else:
            messages.success(request, f"{booking.barn.name} is moved.")
            return redirect("scheduling:round", pk=round_.pk)
    form = _form(request, booking, posted=False)
    return _booking_page(request, booking, form, other, 422)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def call_off(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Asks how and why, then frees the horses."""
    booking = _booking(request, pk)
    form = CallOffForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            service.call_off(
                booking=booking,
                by=access.member(request),
                reason=form.cleaned_data["reason"],
                kind=form.cleaned_data["kind"],
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(
                request, f"{booking.barn.name} is called off; its horses are due again."
            )
            if booking.day < timezone.localdate():
                return _to_round(booking)
            return redirect(
                "scheduling:slot", farrier=booking.farrier_id, day=booking.day
            )
    status = 422 if form.errors else 200
    page = {"booking": booking, "form": form}
    return render(request, "scheduling/call_off.html", page, status=status)


@require_POST
@access.door(access.BOOKS)
def move(request: HttpRequest, pk: UUID, way: str) -> HttpResponse:
    """One place up or down in the round."""
    booking = _booking(request, pk)
    try:
        move_stop(
            booking=booking,
            places=-1 if way == "up" else 1,
            by=access.member(request),
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    return _to_round(booking)


@require_POST
@access.door(access.TREATS)
def attend(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Opens the visit and goes to it."""
    booking = _booking(request, pk)
    try:
        visit = service.attend(
            booking=booking, by=access.member(request), today=timezone.localdate()
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return _to_round(booking)
    return redirect("horses:visit", pk=visit.pk)
