"""Style, script and icon, read once at the start: no address ever becomes a file name."""

from functools import cache
from hashlib import sha256
from importlib.resources import files

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from runner.web.sections import Page, Role

KINDS = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}


@cache
def held() -> dict[str, tuple[bytes, str, str]]:
    """Name -> bytes, kind, mark of its contents."""
    found = {}
    for each in files("runner.web").joinpath("static").iterdir():
        suffix = each.name[each.name.rfind(".") :]
        if each.is_file() and suffix in KINDS:
            data = each.read_bytes()
            found[each.name] = (data, KINDS[suffix], f'"{sha256(data).hexdigest()[:16]}"')
    return found


async def static(request: Request) -> Response:
    """One of the held files."""
    known = held().get(request.path_params["name"])
    if known is None:
        return PlainTextResponse("There is no such file.", 404)
    data, kind, mark = known
    headers = {"etag": mark, "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    return Response(data, media_type=kind, headers=headers)


PAGE = Page("/static/{name}", static, least=Role.ANYBODY)
