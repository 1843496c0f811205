"""Errors as programs get them (RFC 9457)."""

from collections.abc import Mapping
from http import HTTPStatus

from starlette.responses import JSONResponse

from parchd.web.api_models import ProblemDetails

MEDIA_TYPE = "application/problem+json"


class Failed(Exception):
    """A request that is not granted.

    Args:
        status: of HTTP.
        code: for programs.
        detail: what to do about it, a sentence.
        headers: besides the usual ones.
    """

    def __init__(self, status: int, code: str, detail: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(detail)
        self.status = status
        self.code = code
        self.detail = detail
        self.headers = headers or {}

    def response(self) -> JSONResponse:
        problem = ProblemDetails(
            type="about:blank",
            title=HTTPStatus(self.status).phrase,
            status=self.status,
            detail=self.detail,
            code=self.code,
        )
        return JSONResponse(
            problem.model_dump(), self.status, {"Cache-Control": "no-store", **self.headers}, MEDIA_TYPE
        )
