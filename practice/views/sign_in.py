"""Signing in and out."""

from django.conf import settings
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.forms.sign_in import SignInForm
from practice.models import Practice, User
from practice.services import sign_in as service

BACKEND = "django.contrib.auth.backends.ModelBackend"
BY_LINK = "signed_in_by_link"
"""Session key: no old password is asked for when a new one is set."""


def place_of(request: HttpRequest) -> str:
    """The IP address that a request comes from. Each trusted proxy adds one entry at
    the end of X-Forwarded-For; what stands before these, anyone can write."""
    proxies = settings.TRUSTED_PROXIES
    chain = request.headers.get("X-Forwarded-For", "").split(",") if proxies else []
    if 0 < proxies <= len(chain):
        return chain[-proxies].strip()
    return str(request.META.get("REMOTE_ADDR", ""))


def _next_path(request: HttpRequest) -> str:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(
        asked, allowed_hosts=None, require_https=request.is_secure()
    )
    return asked if safe and asked.startswith("/") else ""


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.PUBLIC)
def sign_in(request: HttpRequest) -> HttpResponse:
    """E-mail and password, or a link by e-mail: one page with both ways."""
    if not Practice.objects.exists():
        return redirect("practice:start")
    next_path = _next_path(request)
    if isinstance(request.user, User) and request.method != "POST":
        return redirect(next_path or "practice:home")
    form = SignInForm(request.POST or None)
    status = 422 if form.is_bound else 200
    if request.method == "POST" and form.is_valid():
        # Enter without a password, as someone with none would press it: the link.
        by_link = request.POST.get("way") == "link" or not request.POST.get("password")
        take = _take_link if by_link else _take_password
        try:
            return take(request, form, next_path)
        except Refused as refusal:
            say(form, refusal)
            status = 429 if refusal.sentence == service.TOO_MANY else 422
    page = {"form": form, "next": next_path}
    return render(request, "practice/sign_in.html", page, status=status)


def _take_password(
    request: HttpRequest, form: SignInForm, next_path: str
) -> HttpResponse:
    user = service.user_by_password(
        email=form.cleaned_data["email"],
        password=form.cleaned_data["password"],
        place=place_of(request),
    )
    login(request, user, backend=BACKEND)
    request.session.pop(BY_LINK, None)
    return redirect(next_path or "practice:home")


def _take_link(request: HttpRequest, form: SignInForm, next_path: str) -> HttpResponse:
    email = form.cleaned_data["email"]
    service.ask_for_link(email=email, place=place_of(request), next_path=next_path)
    request.session["link_asked_for"] = email
    return redirect("practice:link_sent")


@never_cache
@require_http_methods(["GET", "HEAD"])
@access.door(access.PUBLIC)
def link_sent(request: HttpRequest) -> HttpResponse:
    """That a link is on its way if the address is known: the same for any address."""
    page = {
        "email": request.session.get("link_asked_for", ""),
        "mail_folder": "" if settings.EMAIL_HOST else settings.EMAIL_FILE_PATH,
    }
    return render(request, "practice/link_sent.html", page)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.PUBLIC)
def sign_in_link(request: HttpRequest, token: str) -> HttpResponse:
    """GET shows a button, since mail programs open links on their own; POST signs in
    and uses the link up."""
    if request.method == "POST":
        try:
            user = service.use_link(token=token)
        except Refused as refusal:
            return _ended(request, refusal.sentence)
        login(request, user, backend=BACKEND)
        request.session[BY_LINK] = True
        return redirect(_next_path(request) or "practice:home")
    if not service.link_is_open(token=token):
        return _ended(request, "This link was used already or has ended.")
    page = {"next": _next_path(request)}
    return render(request, "practice/sign_in_link.html", page)


def _ended(request: HttpRequest, sentence: str) -> HttpResponse:
    page = {"sentence": sentence, "sign_in": reverse("practice:sign_in")}
    return render(request, "practice/link_ended.html", page, status=410)


@require_POST
@access.door(access.PUBLIC)
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ends the session; harmless when there is none."""
    logout(request)
    answer = redirect("practice:sign_in")
    # Pages and photos that the browser kept; unsent drafts in its storage stay.
    answer["Clear-Site-Data"] = '"cache"'
    return answer
