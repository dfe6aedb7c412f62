"""Which role may open which door, written out by hand from the table of roles, and one
real object behind each.

A new address needs a line in ``WAYS``: who may read it, who may write, and, where its
address names an object, which object of ``house`` that is. ``sees`` names the roles for
whom that object exists where not all who may enter see it: the others must get 404.
"""

import io
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from hashlib import sha256
from typing import Any
from uuid import uuid4

from django.utils import timezone
from PIL import Image

from billing.models import ChargeItem, Invoice, IssueRun, MadeFile, Price, TravelBand
from billing.services.bank import bring_in
from billing.services.charges import propose_charge_list
from billing.services.files import path_of
from billing.services.invoices import issue_invoice
from billing.services.ledger import write_off
from billing.services.lines import NewLine, add_line
from billing.services.payments import record_payment
from horses.services.photos import add_photo
from horses.services.sheets import receive_sheet
from practice import outbox
from practice.models import ApiToken, Message, SignInLink
from scheduling.models import Ask, Booking, DrivenRoad, RoadMap
from scheduling.selectors.plans import Wish
from scheduling.services.feeds import renew_feed
from scheduling.services.handling import close_barn
from scheduling.services.reminders import token_of
from scheduling.services.rounds import book_round
from tests import factories
from tests.scheduling.proposed import ready

HEAD = {"head"}
FARRIERS = {"head", "second_farrier"}
TREATS = FARRIERS | {"apprentice"}
BOOKS = FARRIERS | {"office"}
STAFF = TREATS | {"office"}
OWNERS = {"owner", "other_owner"}
CONTACTS = {"barn_contact", "other_contact"}
SIGNED_IN = STAFF | OWNERS | CONTACTS
ANYONE = SIGNED_IN | {"stranger"}
ROLES = sorted(ANYONE)
NOBODY: set[str] = set()
MINE = STAFF | {"owner"}
MY_BARN = STAFF | {"barn_contact"}


@dataclass(frozen=True)
class Way:
    """Who may read and write at an address, and the objects that it names."""

    read: set[str] = field(default_factory=set)
    write: set[str] = field(default_factory=set)
    at: dict[str, str] = field(default_factory=dict)
    sees: set[str] | None = None
    method: str = "post"


def way(
    read: set[str],
    write: set[str] = NOBODY,
    *,
    sees: set[str] | None = None,
    method: str = "post",
    **at: str,
) -> Way:
    """``way(STAFF, BOOKS, pk="horse")``: staff reads, the books write."""
    return Way(read, write, at, sees, method)


WAYS: dict[str, Way] = {
    # ---- practice: the door, people and places -------------------------------------
    "practice:home": way(ANYONE, ANYONE),
    "practice:sign_in": way(ANYONE, ANYONE),
    "practice:link_sent": way(ANYONE),
    "practice:sign_in_link": way(ANYONE, ANYONE, token="link_token"),
    "practice:sign_out": way(NOBODY, SIGNED_IN),
    "practice:account": way(SIGNED_IN, SIGNED_IN),
    "practice:token_back": way(NOBODY, SIGNED_IN, pk="api_token", sees={"owner"}),
    "practice:start": way(ANYONE, ANYONE),
    "practice:start_own": way(HEAD, HEAD),
    "practice:started": way(HEAD),
    "practice:settings": way(HEAD),
    "practice:settings_section": way(HEAD, HEAD, section="section"),
    "practice:users": way(HEAD),
    "practice:user_add": way(HEAD, HEAD),
    "practice:user_edit": way(HEAD, HEAD, pk="user"),
    "practice:user_active": way(NOBODY, HEAD, pk="user"),
    "practice:user_invite": way(NOBODY, HEAD, pk="user"),
    "practice:clients": way(STAFF),
    "practice:client_add": way(BOOKS, BOOKS),
    "practice:client": way(STAFF, pk="client"),
    "practice:client_edit": way(BOOKS, BOOKS, pk="client"),
    "practice:client_aside": way(NOBODY, BOOKS, pk="client"),
    "practice:client_invite": way(NOBODY, BOOKS, pk="client"),
    "practice:barns": way(STAFF),
    "practice:barn_add": way(BOOKS, BOOKS),
    "practice:barn": way(STAFF, pk="barn"),
    "practice:barn_edit": way(BOOKS, BOOKS, pk="barn"),
    "practice:barn_aside": way(NOBODY, BOOKS, pk="barn"),
    "practice:areas": way(BOOKS, BOOKS),
    "practice:area": way(BOOKS, BOOKS, pk="area"),
    "practice:messages": way(BOOKS),
    "practice:message_decide": way(NOBODY, BOOKS, pk="message"),
    "practice:api": way(ANYONE),
    "practice:api_schema": way(ANYONE),
    "practice:api_token": way(NOBODY, ANYONE),
    "practice:api_reckon": way(SIGNED_IN, SIGNED_IN, what="what"),
    "practice:api_clients": way(STAFF, BOOKS),
    "practice:api_client": way(STAFF, BOOKS, pk="client", method="patch"),
    "practice:api_barns": way(STAFF, BOOKS),
    "practice:api_barn": way(STAFF, BOOKS, pk="barn", method="patch"),
    "practice:api_areas": way(STAFF, BOOKS),
    # ---- horses: the animal, visits, records ---------------------------------------
    "horses:horses": way(STAFF),
    "horses:horse_add": way(BOOKS, BOOKS),
    "horses:horse": way(STAFF, pk="horse"),
    "horses:horse_edit": way(BOOKS, BOOKS, pk="horse"),
    "horses:horse_owners": way(BOOKS, BOOKS, pk="horse"),
    "horses:horse_payer": way(BOOKS, BOOKS, pk="horse"),
    "horses:horse_interval": way(FARRIERS, FARRIERS, pk="horse"),
    "horses:intervals": way(HEAD, HEAD),
    "horses:interval_limits": way(HEAD, HEAD, use="use"),
    "horses:trends": way(STAFF, pk="horse"),
    "horses:plans": way(STAFF, pk="horse"),
    "horses:plan_new": way(FARRIERS, FARRIERS, pk="horse", foot="foot"),
    "horses:plan_look": way(NOBODY, FARRIERS, pk="horse", foot="foot"),
    "horses:plan": way(STAFF, pk="plan"),
    "horses:plan_edit": way(FARRIERS, FARRIERS, pk="plan"),
    "horses:plan_accept": way(NOBODY, FARRIERS, pk="plan"),
    "horses:plan_drop": way(NOBODY, FARRIERS, pk="plan"),
    "horses:limbs": way(STAFF, pk="horse"),
    "horses:limb_add": way(TREATS, TREATS, pk="horse", limb="foot"),
    "horses:limb_amend": way(FARRIERS, FARRIERS, pk="trait"),
    "horses:limb_end": way(NOBODY, FARRIERS, pk="trait"),
    "horses:considerations": way(STAFF),
    "horses:horse_considerations": way(STAFF, pk="horse"),
    "horses:record_considerations": way(STAFF, pk="closed_record"),
    "horses:consider": way(NOBODY, FARRIERS, pk="closed_record", code="consideration"),
    "horses:client_horses": way(STAFF, pk="client"),
    "horses:barn_horses": way(STAFF, pk="barn"),
    "horses:lateness": way(BOOKS),
    "horses:works": way(STAFF),
    "horses:work_add": way(BOOKS, BOOKS),
    "horses:work_edit": way(BOOKS, BOOKS, pk="work"),
    "horses:visits": way(STAFF),
    "horses:visit_start": way(TREATS, TREATS, barn="barn"),
    "horses:visit": way(STAFF, pk="open_visit"),
    "horses:visit_note": way(NOBODY, TREATS, pk="open_visit"),
    "horses:visit_add_horse": way(NOBODY, TREATS, pk="open_visit"),
    "horses:visit_take_off": way(NOBODY, TREATS, pk="open_visit", horse="horse"),
    "horses:record": way(STAFF, TREATS, pk="open_record"),
    "horses:record_look": way(NOBODY, TREATS, pk="open_record", foot="foot"),
    "horses:record_amend": way(FARRIERS, FARRIERS, pk="closed_record"),
    "horses:record_changes": way(STAFF, pk="open_record"),
    "horses:record_effects": way(STAFF, pk="open_record"),
    "horses:record_report": way(SIGNED_IN, pk="closed_record", sees=MINE),
    "horses:photo": way(SIGNED_IN, pk="photo", sees=MINE),
    "horses:photo_small": way(SIGNED_IN, pk="photo", sees=MINE),
    "horses:photo_remove": way(NOBODY, TREATS, pk="photo"),
    "horses:photo_marks": way(STAFF, TREATS, pk="photo"),
    "horses:photo_figures": way(NOBODY, TREATS, pk="photo"),
    "horses:photo_shows": way(NOBODY, TREATS, pk="photo"),
    "horses:import": way(BOOKS, BOOKS),
    "horses:import_sheet": way(BOOKS, BOOKS, pk="sheet"),
    "horses:import_columns": way(BOOKS, BOOKS, pk="sheet"),
    "horses:import_drop": way(NOBODY, BOOKS, pk="sheet"),
    "horses:my_horses": way(OWNERS),
    "horses:my_horse": way(OWNERS, pk="horse", sees={"owner"}),
    "horses:my_trends": way(OWNERS, pk="horse", sees={"owner"}),
    "horses:barn_visits": way(CONTACTS),
    "horses:api_horses": way(STAFF, BOOKS),
    "horses:api_horse": way(STAFF, BOOKS, pk="horse", method="patch"),
    "horses:api_ownerships": way(STAFF, BOOKS, pk="horse"),
    "horses:api_payers": way(BOOKS, BOOKS, pk="horse"),
    "horses:api_works": way(STAFF, BOOKS),
    "horses:api_work": way(STAFF, BOOKS, pk="work", method="patch"),
    "horses:api_visits": way(STAFF, TREATS),
    "horses:api_visit": way(STAFF, pk="open_visit"),
    "horses:api_record": way(
        STAFF | OWNERS, TREATS, pk="closed_record", sees=MINE, method="put"
    ),
    # ---- scheduling: days and roads ------------------------------------------------
    "scheduling:today": way(STAFF),
    "scheduling:due": way(STAFF),
    "scheduling:rounds": way(STAFF),
    "scheduling:book": way(BOOKS, BOOKS),
    "scheduling:round": way(STAFF, pk="round"),
    "scheduling:round_sheet": way(STAFF, pk="round"),
    "scheduling:round_sheet_pdf": way(STAFF, pk="round"),
    "scheduling:left_home": way(NOBODY, TREATS, pk="round"),
    "scheduling:home_again": way(NOBODY, TREATS, pk="round"),
    "scheduling:tell_late": way(STAFF, STAFF, pk="round"),
    "scheduling:told": way(NOBODY, STAFF, pk="round"),
    "scheduling:arrived": way(NOBODY, TREATS, pk="booking"),
    "scheduling:left": way(NOBODY, TREATS, pk="booking"),
    "scheduling:late": way(NOBODY, STAFF, pk="booking"),
    "scheduling:skip": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:driving": way(STAFF),
    "scheduling:areas": way(STAFF),
    "scheduling:propose_areas": way(BOOKS, BOOKS),
    "scheduling:draw_area": way(BOOKS, BOOKS),
    "scheduling:areas_round": way(BOOKS, pk="barn"),
    "scheduling:pin_map": way(BOOKS),
    "scheduling:take_in": way(NOBODY, BOOKS, pk="barn", area="area"),
    "scheduling:newcomer": way(BOOKS),
    "scheduling:set_pace": way(NOBODY, BOOKS),
    "scheduling:road_map": way(NOBODY, BOOKS),
    "scheduling:road_map_progress": way(STAFF),
    "scheduling:drop_road_map": way(NOBODY, BOOKS, pk="road_map"),
    "scheduling:ask_anew": way(NOBODY, BOOKS),
    "scheduling:learning": way(STAFF),
    "scheduling:take_lesson": way(NOBODY, BOOKS, pk="work"),
    "scheduling:take_horse_lesson": way(NOBODY, BOOKS, pk="work", horse="horse"),
    "scheduling:odometer": way(NOBODY, BOOKS, pk="drive"),
    "scheduling:leave_drive_out": way(NOBODY, BOOKS, pk="drive", way="drive_way"),
    "scheduling:best_order": way(NOBODY, BOOKS, pk="round"),
    "scheduling:booking": way(BOOKS, BOOKS, pk="booking"),
    "scheduling:reschedule": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:attend": way(NOBODY, TREATS, pk="booking"),
    "scheduling:call_off": way(BOOKS, BOOKS, pk="booking"),
    "scheduling:move_up": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:move_down": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:hours": way(STAFF),
    "scheduling:usual_days": way(BOOKS, BOOKS, pk="second_farrier"),
    "scheduling:working_day": way(NOBODY, BOOKS, pk="second_farrier"),
    "scheduling:as_usual": way(NOBODY, BOOKS, pk="second_farrier", day="day"),
    "scheduling:night_away": way(NOBODY, BOOKS, pk="second_farrier"),
    "scheduling:night_at_home": way(NOBODY, BOOKS, pk="second_farrier", day="day"),
    "scheduling:horse_handling": way(BOOKS, BOOKS, pk="horse"),
    "scheduling:barn_times": way(BOOKS, BOOKS, pk="barn"),
    "scheduling:close_barn": way(NOBODY, BOOKS, pk="barn"),
    "scheduling:open_barn": way(NOBODY, BOOKS, pk="closure"),
    "scheduling:barn_times_piece": way(STAFF, pk="barn"),
    "scheduling:renew_feed": way(NOBODY, BOOKS, pk="second_farrier"),
    "scheduling:revoke_feed": way(NOBODY, BOOKS, pk="second_farrier"),
    "scheduling:feed": way(ANYONE, token="feed_token"),
    "scheduling:reminders": way(BOOKS),
    "scheduling:reminder_settings": way(HEAD, HEAD),
    "scheduling:weights": way(HEAD, HEAD),
    "scheduling:weight_examples": way(HEAD),
    "scheduling:usual_weights": way(NOBODY, HEAD),
    "scheduling:client_reminders": way(BOOKS, BOOKS, pk="client"),
    "scheduling:reminder_called": way(NOBODY, BOOKS, pk="client"),
    "scheduling:stop_reminders": way(ANYONE, ANYONE, token="reminder_token"),
    "scheduling:horse_bookings": way(STAFF, pk="horse"),
    "scheduling:my_next_visit": way(OWNERS, pk="horse", sees={"owner"}),
    "scheduling:barn_upcoming": way(STAFF | CONTACTS, pk="barn", sees=MY_BARN),
    "scheduling:propose": way(BOOKS, BOOKS),
    "scheduling:proposal": way(STAFF, pk="proposal"),
    "scheduling:proposal_progress": way(STAFF, pk="proposal"),
    "scheduling:proposal_stop": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:proposal_drop": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:proposal_costs": way(BOOKS, pk="proposal"),
    "scheduling:proposal_move": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:proposal_accept": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:proposal_undo": way(NOBODY, BOOKS, pk="proposal", step="proposal_step"),
    "scheduling:slot": way(BOOKS, BOOKS, farrier="second_farrier", day="day"),
    "scheduling:ask": way(BOOKS, BOOKS),
    "scheduling:answers": way(STAFF),
    "scheduling:my_asks": way(OWNERS | CONTACTS),
    "scheduling:answer": way(SIGNED_IN, BOOKS | OWNERS | CONTACTS, pk="ask", sees=MINE),
    "scheduling:my_call_off": way(OWNERS, OWNERS, pk="booking", sees=NOBODY),
    "scheduling:take_wish": way(NOBODY, BOOKS, pk="ask"),
    "scheduling:asked": way(ANYONE, ANYONE, token="ask_token"),
    "scheduling:api_due": way(STAFF),
    "scheduling:api_rounds": way(STAFF, BOOKS),
    "scheduling:api_round": way(STAFF, pk="round"),
    "scheduling:api_proposals": way(STAFF, BOOKS),
    "scheduling:api_proposal": way(STAFF, BOOKS, pk="proposal", method="delete"),
    "scheduling:api_proposal_stop": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:api_proposal_costs": way(BOOKS, pk="proposal"),
    "scheduling:api_proposal_move": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:api_proposal_undo": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:api_off": way(NOBODY, TREATS, pk="round"),
    "scheduling:api_home": way(NOBODY, TREATS, pk="round"),
    "scheduling:api_news": way(STAFF, STAFF, pk="round"),
    "scheduling:api_told": way(NOBODY, STAFF, pk="round"),
    "scheduling:api_there": way(NOBODY, TREATS, pk="booking"),
    "scheduling:api_leave": way(NOBODY, TREATS, pk="booking"),
    "scheduling:api_late": way(NOBODY, STAFF, pk="booking"),
    "scheduling:api_leave_out": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:api_ask": way(NOBODY, BOOKS, pk="booking"),
    "scheduling:api_asks": way(SIGNED_IN),
    "scheduling:api_asked": way(SIGNED_IN, pk="ask", sees=MINE),
    "scheduling:api_ask_days": way(BOOKS | OWNERS | CONTACTS, pk="ask", sees=MINE),
    "scheduling:api_answer": way(
        *(NOBODY, BOOKS | OWNERS | CONTACTS), pk="ask", sees=MINE
    ),
    "scheduling:api_take": way(NOBODY, BOOKS, pk="ask"),
    "scheduling:api_accept": way(NOBODY, BOOKS, pk="proposal"),
    "scheduling:api_attend": way(NOBODY, TREATS, pk="booking"),
    "scheduling:api_call_off": way(NOBODY, BOOKS, pk="booking"),
    # ---- billing: money ------------------------------------------------------------
    "billing:charge_list": way(BOOKS, BOOKS),
    "billing:charge_add": way(NOBODY, BOOKS),
    "billing:charge_retire": way(NOBODY, BOOKS, pk="charge"),
    "billing:tax_rate": way(NOBODY, BOOKS),
    "billing:tax": way(BOOKS, BOOKS),
    "billing:tax_confirm": way(NOBODY, HEAD),
    "billing:rules": way(BOOKS, BOOKS),
    "billing:rule_add": way(NOBODY, BOOKS, kind="rule_kind"),
    "billing:rule_remove": way(NOBODY, BOOKS, kind="rule_kind", pk="band"),
    "billing:client_terms": way(BOOKS, BOOKS, pk="client"),
    "billing:barn_terms": way(BOOKS, BOOKS, pk="barn"),
    "billing:charge": way(BOOKS, BOOKS, pk="charge"),
    "billing:price_add": way(NOBODY, BOOKS, pk="charge"),
    "billing:price_remove": way(NOBODY, BOOKS, pk="charge", price="price"),
    "billing:discount": way(NOBODY, BOOKS, pk="draft"),
    "billing:discount_remove": way(NOBODY, BOOKS, pk="draft"),
    "billing:deposit": way(NOBODY, BOOKS, pk="draft", of="invoice"),
    "billing:invoices": way(BOOKS),
    "billing:drafts_fragment": way(BOOKS),
    "billing:invoice": way(BOOKS, pk="invoice"),
    "billing:invoice_pdf": way(BOOKS, pk="invoice"),
    "billing:invoice_xml": way(BOOKS, pk="invoice", kind="syntax"),
    "billing:paper": way(HEAD, HEAD),
    "billing:logo": way(HEAD, sees=NOBODY),
    "billing:receipt": way(BOOKS, pk="payment"),
    "billing:receipt_mail": way(NOBODY, BOOKS, pk="payment"),
    "billing:statement": way(BOOKS, client="client"),
    "billing:invoice_issue": way(NOBODY, BOOKS, pk="draft"),
    "billing:invoice_discard": way(NOBODY, BOOKS, pk="draft"),
    "billing:invoice_note": way(NOBODY, BOOKS, pk="draft"),
    "billing:invoice_credit": way(NOBODY, BOOKS, pk="invoice"),
    "billing:write_off": way(NOBODY, BOOKS, pk="invoice"),
    "billing:hope_again": way(NOBODY, BOOKS, pk="invoice", entry="written_off"),
    "billing:object_to": way(NOBODY, BOOKS, pk="invoice"),
    "billing:settled": way(NOBODY, BOOKS, pk="invoice"),
    "billing:charge_lateness": way(NOBODY, BOOKS, pk="invoice"),
    "billing:pay_back": way(NOBODY, BOOKS, pk="payment"),
    "billing:bounced": way(NOBODY, BOOKS, pk="payment"),
    "billing:begin": way(NOBODY, BOOKS, client="client"),
    "billing:books": way(BOOKS),
    "billing:owed": way(BOOKS),
    "billing:export": way(BOOKS),
    "billing:month_end": way(BOOKS, BOOKS),
    "billing:issue_run": way(BOOKS, pk="issue_run"),
    "billing:collecting": way(BOOKS, BOOKS),
    "billing:late_percent": way(NOBODY, BOOKS),
    "billing:file_ask": way(NOBODY, BOOKS),
    "billing:file": way(BOOKS, pk="books_file"),
    "billing:file_progress": way(BOOKS, pk="books_file"),
    "billing:file_take": way(BOOKS, pk="books_file"),
    "billing:bank": way(BOOKS, BOOKS),
    "billing:bank_columns": way(NOBODY, BOOKS),
    "billing:bank_import": way(BOOKS, pk="bank_import"),
    "billing:bank_undo": way(NOBODY, BOOKS, pk="bank_import"),
    "billing:bank_post": way(NOBODY, BOOKS, pk="bank_line"),
    "billing:bank_leave": way(NOBODY, BOOKS, pk="bank_line"),
    "billing:line_add": way(NOBODY, BOOKS, pk="draft"),
    "billing:line": way(BOOKS, BOOKS, pk="draft", line="line"),
    "billing:line_remove": way(NOBODY, BOOKS, pk="draft", line="line"),
    "billing:payments": way(BOOKS),
    "billing:payment": way(BOOKS, pk="payment"),
    "billing:payment_new": way(BOOKS, BOOKS, client="client"),
    "billing:account": way(BOOKS, client="client"),
    "billing:use_credit": way(NOBODY, BOOKS, client="client"),
    # The office sees what closing would bill; farriers alone close.
    "billing:closing": way(BOOKS, FARRIERS, pk="open_visit"),
    "billing:closing_issue": way(NOBODY, BOOKS, pk="closed_visit"),
    "billing:my_account": way(OWNERS),
    "billing:my_invoices": way(OWNERS),
    "billing:my_invoice": way(OWNERS, pk="invoice", sees={"owner"}),
    "billing:my_invoice_pdf": way(OWNERS, pk="invoice", sees={"owner"}),
    "billing:my_invoice_xml": way(OWNERS, pk="invoice", kind="syntax", sees={"owner"}),
    "billing:my_receipt": way(OWNERS, pk="payment", sees={"owner"}),
    "billing:my_statement": way(OWNERS),
    "billing:horse_money": way(BOOKS, pk="horse"),
    "billing:api_invoices": way(BOOKS | OWNERS),
    "billing:api_invoice": way(BOOKS | OWNERS, pk="invoice", sees=BOOKS | {"owner"}),
    "billing:api_invoice_pdf": way(
        BOOKS | OWNERS, pk="invoice", sees=BOOKS | {"owner"}
    ),
    "billing:api_invoice_xml": way(
        BOOKS | OWNERS, pk="invoice", kind="syntax", sees=BOOKS | {"owner"}
    ),
    "billing:api_receipt": way(BOOKS | OWNERS, pk="payment", sees=BOOKS | {"owner"}),
    "billing:api_invoice_issue": way(NOBODY, BOOKS, pk="draft"),
    "billing:api_invoice_credit": way(NOBODY, BOOKS, pk="invoice"),
    "billing:api_write_off": way(NOBODY, BOOKS, pk="invoice"),
    "billing:api_refund": way(NOBODY, BOOKS, pk="payment"),
    "billing:api_charge_list": way(BOOKS),
    "billing:api_payments": way(BOOKS | OWNERS, BOOKS),
    "billing:api_payment": way(BOOKS | OWNERS, pk="payment", sees=BOOKS | {"owner"}),
    "billing:api_closing": way(NOBODY, FARRIERS, pk="open_visit"),
}


def cast() -> dict[str, Any]:
    """Someone of each role, by the names of ``ROLES``, who are of this practice."""
    return {
        "head": factories.make_user("farrier", runs_practice=True),
        "second_farrier": factories.make_user("farrier"),
        "apprentice": factories.make_user("apprentice"),
        "office": factories.make_user("office"),
        "owner": factories.make_owner(),
        "other_owner": factories.make_owner(),
        "barn_contact": factories.make_user("barn_contact"),
        "other_contact": factories.make_user("barn_contact"),
    }


def house(cast: dict[str, Any]) -> dict[str, Any]:
    """One object of each kind, those of people all ``owner``'s, and the values that
    stand in addresses.

    Args:
        cast: the users by role, as ``ROLES`` names them.
    """
    head, owner = cast["head"], cast["owner"]
    practice = factories.make_practice(is_demo=True)
    today = timezone.localdate()
    barn = factories.make_barn(area=factories.make_area())
    factories.make_barn_contact(barn=barn, user=cast["barn_contact"])
    factories.make_barn_contact(barn=factories.make_barn(), user=cast["other_contact"])
    work = factories.make_work()
    horse = factories.make_horse(owner=owner.client, barn=barn, usual_work=work)
    factories.make_horse(owner=cast["other_owner"].client)
    return {
        "user": cast["second_farrier"].pk,
        "second_farrier": cast["second_farrier"].pk,
        "client": owner.client_id,
        "barn": barn.pk,
        "area": barn.area_id,
        "work": work.pk,
        "horse": horse.pk,
        "foot": "LF",
        "plan": factories.make_plan(horse=horse, by=head).pk,
        "day": today.isoformat(),
        "section": "name",
        "use": "dressage",
        "trait": factories.make_conformation(horse=horse).pk,
        "consideration": "flare_dressed",
        "what": "totals",
        "road_map": RoadMap.objects.create(name="a", sha256="0", size_bytes=1).pk,
        "drive": _driven(head, today).pk,
        "drive_way": "out",
        "closure": close_barn(barn=barn, first=today, last=today, by=head).pk,
        **_sent(cast),
        **_visited(horse, head, today),
        **_booked(barn, head, today),
        **_proposed(owner, head, today),
        **_billed(practice, owner, head, today),
        "sheet": receive_sheet(name="a.csv", data=b"Owner,Horse\nA,B\n", by=head).pk,
    }


def _driven(head: Any, today: Any) -> DrivenRoad:
    there = {"latitude": Decimal("55.6"), "longitude": Decimal("-2.8")}
    ends = {f"{end}_{name}": v for end in ("start", "end") for name, v in there.items()}
    return DrivenRoad.objects.create(
        key="doors", farrier=head, day=today, minutes=9, **ends
    )


def _sent(cast: dict[str, Any]) -> dict[str, Any]:
    token = "a token of the test alone"
    digest = sha256(token.encode()).hexdigest()
    held = ApiToken.objects.create(
        user=cast["owner"], name="a phone", token_sha256=sha256(b"api").hexdigest()
    )
    SignInLink.objects.create(
        user=cast["owner"],
        token_sha256=digest,
        expires_at=timezone.now() + timedelta(minutes=5),
    )
    outbox.queue_mail(
        kind="note", to="a@example.org", subject="s", body="b", key="doors"
    )
    Message.objects.filter(key="doors").update(state=Message.State.FAILED)
    return {
        "link_token": token,
        "api_token": held.pk,
        "message": Message.objects.get(key="doors").pk,
        "reminder_token": token_of(cast["owner"].client),
        "feed_token": renew_feed(farrier=cast["head"], by=cast["head"]).token,
    }


def _visited(horse: Any, head: Any, today: Any) -> dict[str, Any]:
    closed = factories.make_visit(
        horses=[horse], farrier=head, day=today - timedelta(days=30)
    )
    record = closed.records.get()
    factories.make_foot_record(record=record)
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "red").save(picture, "JPEG")
    picture.seek(0)
    photo = add_photo(record=record, upload=picture, by=head)
    factories.close(closed)
    visit = factories.make_visit(horses=[horse], farrier=head)
    return {
        "open_visit": visit.pk,
        "open_record": visit.records.get().pk,
        "closed_visit": closed.pk,
        "closed_record": record.pk,
        "photo": photo.pk,
    }


def _booked(barn: Any, head: Any, today: Any) -> dict[str, Any]:
    animal = factories.make_horse(barn=barn)
    booked = book_round(
        farrier=head, day=today, wishes=[Wish(barn, (animal,))], by=head, today=today
    )
    return {"round": booked.pk, "booking": Booking.objects.get().pk}


def _proposed(owner: Any, head: Any, today: Any) -> dict[str, Any]:
    """A proposal with a step, and an ask put to the owner."""
    token = "asked by the test alone"
    proposal = ready(by=head, today=today)
    step = proposal.steps.create(kind="moved", said="a stop", before=proposal.plan)
    ask = Ask.objects.create(
        booking=Booking.objects.get(),
        client=owner.client,
        day=today,
        token_sha256=sha256(token.encode()).hexdigest(),
        expires_at=timezone.now() + timedelta(days=1),
    )
    return {
        "proposal": proposal.pk,
        "proposal_step": step.pk,
        "ask": ask.pk,
        "ask_token": token,
    }


def _billed(practice: Any, owner: Any, head: Any, today: Any) -> dict[str, Any]:
    propose_charge_list(practice=practice)
    drafts = [
        Invoice.objects.create(client=owner.client, currency="GBP") for _ in range(2)
    ]
    for draft in drafts:
        wish = NewLine(name="Work", unit_price=Decimal(40), tax_code="zero")
        add_line(invoice=draft, by=head, line=wish)
    issued = issue_invoice(invoice=drafts[0], by=head, today=today)
    payment = record_payment(
        key=uuid4(),
        client=owner.client,
        amount=Decimal(5),
        method="cash",
        day=today,
        by=head,
    )
    charge = ChargeItem.objects.filter(work__isnull=True).first()
    price = Price.objects.create(item=charge, amount=Decimal(7), client=owner.client)
    return {
        "rule_kind": "band",
        "band": TravelBand.objects.create(up_to_metres=9_000, price=Decimal(9)).pk,
        "price": price.pk,
        "invoice": issued.pk,
        "syntax": "cii",
        "draft": drafts[1].pk,
        "line": drafts[1].lines.get().pk,
        **_kept(issued, head, today),
        "payment": payment.pk,
        "charge": charge.pk,
    }


STATEMENT = b"""OFXHEADER:100

<OFX><STMTRS><CURDEF>GBP<BANKTRANLIST><STMTTRN><DTPOSTED>20261120<TRNAMT>9.00<FITID>1
</STMTTRN></BANKTRANLIST></STMTRS></OFX>"""


def _kept(issued: Any, head: Any, today: Any) -> dict[str, Any]:
    """What the books keep: a write-off, a run of issues, a bank statement, a year."""
    gone = write_off(
        invoice=issued, by=head, today=today, reason="doors", amount=Decimal(1)
    )
    run = IssueRun.objects.create(day=today, todo=[str(issued.pk)], by=head)
    made = MadeFile.objects.create(
        kind="year", first=today, sha256="0" * 64, ended_at=timezone.now()
    )
    path_of(made).parent.mkdir(parents=True, exist_ok=True)
    path_of(made).write_bytes(b"PK")
    brought = bring_in(name="doors.ofx", data=STATEMENT, by=head).made
    return {
        "written_off": gone.pk,
        "issue_run": run.pk,
        "bank_import": brought.pk,
        "bank_line": brought.lines.get().pk,
        "books_file": made.pk,
    }
