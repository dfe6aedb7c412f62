"""What the API takes and gives that belongs to no single resource."""

from typing import Any

from rest_framework import serializers


class SignInSerializer(serializers.Serializer[Any]):
    """What a program signs in with."""

    email = serializers.EmailField()
    password = serializers.CharField(trim_whitespace=False, write_only=True)


class TokenSerializer(serializers.Serializer[Any]):
    """What it sends from then on: ``Authorization: Token …``."""

    token = serializers.CharField(read_only=True)
    role = serializers.CharField(read_only=True)
