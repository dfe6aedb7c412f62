"""Who a program is, by the token that it sends."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from practice.models import ApiToken, User
from practice.services.tokens import token_of

WORD = "Token"


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Token …``."""

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        """The user and the token; None where the header says nothing of the kind."""
        word, _, text = get_authorization_header(request).partition(b" ")
        if word.lower() != WORD.lower().encode():
            return None
        token = token_of(text.strip().decode("ascii", errors="replace"))
        if token is None:
            raise AuthenticationFailed("This token is not one, or was taken back.")
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        return WORD


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # its metaclass
    """How the API's description tells of it."""

    target_class = "practice.api.authentication.TokenAuthentication"
    name = "tokenAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "The word Token, a space, the token.",
        }
