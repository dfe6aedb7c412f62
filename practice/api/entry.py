"""The way into the API: its token, its description, the page that shows it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.parsers import JSONParser
from rest_framework.permissions import BasePermission
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from practice import access
from practice.api.base import asked
from practice.api.described import groups
from practice.api.schema import the_schema
from practice.errors import Refused
from practice.models import ApiToken
from practice.problems import problem
from practice.serializers import SignInSerializer, TokenSerializer
from practice.services.sign_in import TOO_MANY, user_by_password
from practice.services.tokens import make_token, take_back_token
from practice.views.sign_in import place_of

UNNAMED = "a program"


class AnyoneInTokenOut(BasePermission):
    """Anyone may ask for a token; only who is signed in can give one back."""

    read = access.SIGNED_IN
    write = access.PUBLIC

    def has_permission(self, request: Request, view: Any) -> bool:
        roles = access.SIGNED_IN if request.method == "DELETE" else access.PUBLIC
        return access.may_enter(request.user, roles)


class TokenDoor(APIView):
    """A token for a program: by e-mail and password, with a limit of tries."""

    permission_classes = [AnyoneInTokenOut]
    parser_classes = [JSONParser]

    @extend_schema(
        summary="Get a token",
        request=SignInSerializer,
        responses={200: TokenSerializer},
        auth=[],
    )
    def post(self, request: Request) -> Response:
        """Send it from then on as ``Authorization: Token …``. Each call makes another
        one; those that you have, by name, are on the page of your account."""
        body = asked(request, SignInSerializer)
        try:
            user = user_by_password(
                email=body["email"],
                password=body["password"],
                place=place_of(request._request),
            )
        except Refused as refusal:
            if refusal.sentence == TOO_MANY:
                answer = problem(429, refusal.sentence)
                answer["Retry-After"] = "900"
                return answer
            raise
        text = make_token(user=user, name=body.get("name") or UNNAMED)
        told = TokenSerializer({"token": text, "role": user.role})
        return Response(told.data, headers={"Cache-Control": "no-store"})

    @extend_schema(summary="Give the token back", request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """The token stops working at once."""
        if not isinstance(request.auth, ApiToken):
            raise Refused("Send the token that is to be given back.")
        take_back_token(token=request.auth, by=access.member(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class SchemaDoor(APIView):
    """The description of the API, OpenAPI 3.1 as JSON."""

    permission_classes = [access.api_door(access.PUBLIC)]
    renderer_classes = [JSONRenderer]

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        return Response(
            the_schema(), content_type="application/vnd.oai.openapi+json;version=3.1"
        )


@require_safe
@access.door(access.PUBLIC)
def description(request: HttpRequest) -> HttpResponse:
    """The same for people: every address with what it takes and gives."""
    return render(
        request,
        "practice/api.html",
        {"groups": groups(the_schema()), "title": "The API"},
    )
