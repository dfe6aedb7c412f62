"""The words of the mails about visits, by language, and what each mail says. Pure.

What people typed (names, the practice's own words) stays as they typed it. The words
have not been read by a native speaker of each language yet.
"""

from collections.abc import Sequence
from datetime import date

from practice import languages
from practice.languages import Row
from scheduling.notices import Span

# fmt: off
CATALOGUE: dict[str, Row] = {
    "hello": ("Hello {name},", "Guten Tag {name},", "Bonjour {name},", "Beste {name},", "Hola, {name}:", "Gentile {name},"),

    # A reminder of horses that are due
    "due_subject_one": ("{horse}: time for the farrier", "{horse}: Zeit für den Hufschmied", "{horse} : le maréchal-ferrant est à prévoir", "{horse}: tijd voor de hoefsmid", "{horse}: toca el herrador", "{horse}: è ora del maniscalco"),
    "due_subject_many": ("Your horses: time for the farrier", "Ihre Pferde: Zeit für den Hufschmied", "Vos chevaux : le maréchal-ferrant est à prévoir", "Uw paarden: tijd voor de hoefsmid", "Sus caballos: toca el herrador", "I vostri cavalli: è ora del maniscalco"),
    "was_due": ("was due by {day}", "war bis zum {day} fällig", "était à voir au plus tard le {day}", "was uiterlijk {day} aan de beurt", "tocaba a más tardar el {day}", "andava visto entro {day}"),
    "due_now": ("due now, by {day}", "jetzt fällig, bis zum {day}", "à voir maintenant, au plus tard le {day}", "nu aan de beurt, uiterlijk {day}", "toca ahora, a más tardar el {day}", "da vedere ora, entro {day}"),
    "due": ("due {days}", "fällig {days}", "à voir {days}", "aan de beurt {days}", "toca {days}", "da vedere {days}"),
    "no_visit": ("No visit is booked yet. Please get in touch to agree a day.", "Noch ist kein Besuch vereinbart. Bitte melden Sie sich, um einen Tag abzusprechen.", "Aucune visite n’est encore prévue. Merci de nous contacter pour convenir d’un jour.", "Er is nog geen bezoek afgesproken. Neem contact op om een dag af te spreken.", "Todavía no hay visita acordada. Póngase en contacto con nosotros para acordar un día.", "Non è ancora fissata una visita. Contattateci per concordare un giorno."),
    "no_visit_reach": ("No visit is booked yet. Please get in touch to agree a day: {reach}.", "Noch ist kein Besuch vereinbart. Bitte melden Sie sich, um einen Tag abzusprechen: {reach}.", "Aucune visite n’est encore prévue. Merci de nous contacter pour convenir d’un jour : {reach}.", "Er is nog geen bezoek afgesproken. Neem contact op om een dag af te spreken: {reach}.", "Todavía no hay visita acordada. Póngase en contacto con nosotros para acordar un día: {reach}.", "Non è ancora fissata una visita. Contattateci per concordare un giorno: {reach}."),
    "or": ("{one} or {other}", "{one} oder {other}", "{one} ou {other}", "{one} of {other}", "{one} o {other}", "{one} oppure {other}"),
    "your_horses": ("Your horses:", "Ihre Pferde:", "Vos chevaux :", "Uw paarden:", "Sus caballos:", "I vostri cavalli:"),
    "no_more": ("No more reminders:", "Keine Erinnerungen mehr:", "Ne plus recevoir de rappels :", "Geen herinneringen meer:", "No recibir más recordatorios:", "Niente più promemoria:"),

    # Asking whether a day suits
    "ask_subject": ("Does {day} suit? {practice} at {barn}", "Passt der Termin: {day}? {practice}, {barn}", "Le {day} vous convient-il ? {practice}, {barn}", "Schikt {day}? {practice}, {barn}", "¿Le viene bien el {day}? {practice}, {barn}", "Va bene {day}? {practice}, {barn}"),
    "ask_visit": ("{farrier} would come to {barn} on {day}, for {horses}.", "{farrier} würde am {day} kommen ({barn}), für {horses}.", "{farrier} viendrait le {day} ({barn}), pour {horses}.", "{farrier} zou op {day} komen ({barn}), voor {horses}.", "{farrier} iría el {day} ({barn}), para {horses}.", "{farrier} verrebbe {day} ({barn}), per {horses}."),
    "ask_visit_at": ("{farrier} would come to {barn} on {day}, about {time}, for {horses}.", "{farrier} würde am {day} gegen {time} Uhr kommen ({barn}), für {horses}.", "{farrier} viendrait le {day} vers {time} ({barn}), pour {horses}.", "{farrier} zou op {day} rond {time} uur komen ({barn}), voor {horses}.", "{farrier} iría el {day} hacia las {time} ({barn}), para {horses}.", "{farrier} verrebbe {day} verso le {time} ({barn}), per {horses}."),
    "ask_how": (
        "Does that suit? Open this page and press a button. No sign-in is needed, and opening it alone answers nothing:",
        "Passt das? Öffnen Sie diese Seite und drücken Sie einen Knopf. Sie müssen sich nicht anmelden, und das Öffnen allein beantwortet nichts:",
        "Cela vous convient-il ? Ouvrez cette page et appuyez sur un bouton. Aucune connexion n’est nécessaire, et l’ouvrir ne répond à rien :",
        "Schikt dat? Open deze pagina en druk op een knop. Aanmelden is niet nodig, en alleen openen geeft nog geen antwoord:",
        "¿Le viene bien? Abra esta página y pulse un botón. No hace falta iniciar sesión, y abrirla no responde nada por sí solo:",
        "Va bene? Aprite questa pagina e premete un pulsante. Non serve accedere, e aprirla da sola non risponde nulla:",
    ),
    "ask_yes": ("Yes, it suits: first button.", "Ja, es passt: erster Knopf.", "Oui, cela convient : premier bouton.", "Ja, het schikt: eerste knop.", "Sí, me viene bien: primer botón.", "Sì, va bene: primo pulsante."),
    "ask_other": ("Another day:", "Ein anderer Tag:", "Un autre jour :", "Een andere dag:", "Otro día:", "Un altro giorno:"),
    "ask_away": ("Away:", "Nicht da:", "Absent :", "Afwezig:", "No estaré:", "Assente:"),
    "ask_private": (
        "The link is yours alone and ends with the day. Please don't pass it on.",
        "Der Link gilt nur für Sie und bis zu diesem Tag. Bitte geben Sie ihn nicht weiter.",
        "Ce lien est pour vous seul et expire ce jour-là. Merci de ne pas le transmettre.",
        "De link is alleen voor u en vervalt na die dag. Geef hem niet door.",
        "El enlace es solo para usted y caduca ese día. No lo comparta, por favor.",
        "Il collegamento è solo per voi e scade quel giorno. Vi preghiamo di non inoltrarlo.",
    ),

    # Running late, or early
    "late_subject": ("{barn} today: about {starts} instead of {told}", "{barn} heute: gegen {starts} statt {told} Uhr", "{barn} aujourd’hui : vers {starts} au lieu de {told}", "{barn} vandaag: rond {starts} in plaats van {told}", "{barn} hoy: hacia las {starts} en lugar de las {told}", "{barn} oggi: verso le {starts} invece delle {told}"),
    "late": ("{farrier} is running late today and will be at {barn} at about {starts}, not {told}.", "{farrier} ist heute später dran und kommt gegen {starts} statt {told} Uhr ({barn}).", "{farrier} a du retard aujourd’hui et arrivera vers {starts} au lieu de {told} ({barn}).", "{farrier} loopt vandaag uit en komt rond {starts} in plaats van {told} uur ({barn}).", "{farrier} va con retraso hoy y llegará hacia las {starts}, no a las {told} ({barn}).", "{farrier} oggi è in ritardo e arriverà verso le {starts}, non alle {told} ({barn})."),
    "early": ("{farrier} gets on faster than planned today and will be at {barn} at about {starts}, not {told}.", "{farrier} kommt heute schneller voran und ist gegen {starts} statt {told} Uhr da ({barn}).", "{farrier} avance plus vite que prévu aujourd’hui et arrivera vers {starts} au lieu de {told} ({barn}).", "{farrier} is vandaag sneller dan gepland en komt rond {starts} in plaats van {told} uur ({barn}).", "{farrier} va hoy más rápido de lo previsto y llegará hacia las {starts}, no a las {told} ({barn}).", "{farrier} oggi è in anticipo e arriverà verso le {starts}, non alle {told} ({barn})."),
    "sorry": ("We are sorry for the wait.", "Bitte entschuldigen Sie die Wartezeit.", "Veuillez nous excuser pour l’attente.", "Onze excuses voor het wachten.", "Disculpe la espera.", "Ci scusiamo per l’attesa."),
    "ring": ("If that no longer suits, please ring {phone}.", "Wenn das nicht mehr passt, rufen Sie bitte an: {phone}.", "Si cela ne convient plus, appelez le {phone}.", "Schikt dat niet meer, bel dan {phone}.", "Si ya no le viene bien, llame al {phone}.", "Se non va più bene, chiamate il {phone}."),
    "ring_us": ("If that no longer suits, please ring us.", "Wenn das nicht mehr passt, rufen Sie uns bitte an.", "Si cela ne convient plus, appelez-nous.", "Schikt dat niet meer, bel ons dan.", "Si ya no le viene bien, llámenos.", "Se non va più bene, chiamateci."),
    "late_short": ("{practice}: at {barn} today about {starts}, not {told}.", "{practice}: heute gegen {starts} statt {told} Uhr, {barn}.", "{practice} : aujourd’hui vers {starts} au lieu de {told}, {barn}.", "{practice}: vandaag rond {starts} i.p.v. {told}, {barn}.", "{practice}: hoy hacia las {starts}, no a las {told}, {barn}.", "{practice}: oggi verso le {starts}, non alle {told}, {barn}."),
}
# fmt: on

_BY_LANGUAGE = languages.by_language(CATALOGUE)


def said(language: str, key: str, /, **parts: str) -> str:
    """The words under ``key`` in a language (BCP 47), ``{name}`` filled from parts."""
    return _BY_LANGUAGE[languages.known(language)][key].format(**parts)


def due_said(language: str, span: Span, *, today: date) -> str:
    """``due between 3 and 12 March``, by the day on which it is read."""
    if span.latest < today:
        key = "was_due"
    elif span.earliest <= today:
        key = "due_now"
    else:
        days = languages.between(language, span.earliest, span.latest)
        return said(language, "due", days=days)
    return said(language, key, day=languages.full(language, span.latest))


def due_mail(
    language: str, *, name: str, horses: Sequence[str], reach: Sequence[str]
) -> dict[str, str]:
    """What a reminder says beside the horses' own lines: ``subject``, ``hello``,
    ``no_visit``, ``your_horses``, ``no_more``. ``reach``: phone, e-mail, or what there
    is of them."""
    joined = (
        said(language, "or", one=reach[0], other=reach[1])
        if len(reach) == 2
        else "".join(reach)
    )
    one = len(horses) == 1
    return {
        "subject": said(language, "due_subject_one", horse=horses[0])
        if one
        else said(language, "due_subject_many"),
        "hello": said(language, "hello", name=name),
        "no_visit": said(language, "no_visit_reach", reach=joined)
        if joined
        else said(language, "no_visit"),
        "your_horses": said(language, "your_horses"),
        "no_more": said(language, "no_more"),
    }


def ask_mail(
    language: str,
    *,
    name: str,
    practice: str,
    farrier: str,
    barn: str,
    day: date,
    time: str,
    horses: Sequence[str],
) -> dict[str, str]:
    """What the mail says that asks whether a day suits; ``time`` such as ``09:30``,
    empty where none is set: ``subject``, ``hello``, ``visit``, and the rest by key."""
    parts = {
        "farrier": farrier,
        "barn": barn,
        "day": languages.meeting_day(language, day),
        "horses": ", ".join(horses),
    }
    visit = (
        said(language, "ask_visit_at", **parts, time=time)
        if time
        else said(language, "ask_visit", **parts)
    )
    return {
        "subject": said(
            language, "ask_subject", practice=practice, barn=barn, day=parts["day"]
        ),
        "hello": said(language, "hello", name=name),
        "visit": visit,
        **{
            key: said(language, f"ask_{key}")
            for key in ("how", "yes", "other", "away", "private")
        },
    }


def late_mail(
    language: str,
    *,
    name: str,
    practice: str,
    phone: str,
    farrier: str,
    barn: str,
    starts: str,
    told: str,
    is_late: bool,
) -> dict[str, str]:
    """What people are told of a new time: ``subject``, ``hello``, ``text``, ``ring``
    for a mail, ``short`` for one message on a phone."""
    parts = {"farrier": farrier, "barn": barn, "starts": starts, "told": told}
    ring = said(language, "ring", phone=phone) if phone else said(language, "ring_us")
    return {
        "subject": said(language, "late_subject", barn=barn, starts=starts, told=told),
        "hello": said(language, "hello", name=name),
        "text": said(language, "late" if is_late else "early", **parts),
        "ring": f"{said(language, 'sorry')} {ring}" if is_late else ring,
        "short": said(
            language,
            "late_short",
            practice=practice,
            barn=barn,
            starts=starts,
            told=told,
        ),
    }
