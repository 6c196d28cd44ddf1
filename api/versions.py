"""Versions of what is kept, as ETags, and the conditions that requests make of them (RFC 9110 section 13)."""

from api.errors import Problem


def etag(version: int) -> str:
    """The ETag of a version."""
    return f'"{version}"'


def matches(condition: str, version: int) -> bool:
    """Whether an If-Match or If-None-Match condition names this version."""
    return matches_tag(condition, etag(version))


def matches_tag(condition: str, tag: str) -> bool:
    """Whether an If-Match or If-None-Match condition names this ETag."""
    return any(one.strip() in ("*", tag) for one in condition.split(","))


def check_version(version: int | None, if_match: str | None, if_none_match: str | None) -> None:
    """Raise a 412 problem when the version that stands (None: nothing stands) is not what the request expects."""
    if if_match is not None and (version is None or not matches(if_match, version)):
        detail = "it is no longer there" if version is None else f"it is at version {etag(version)} now"
        headers = {} if version is None else {"ETag": etag(version)}
        raise Problem(412, "clash", f"If-Match is {if_match[:80]}, but {detail}; read it again", headers=headers)
    if if_none_match is not None and version is not None and matches(if_none_match, version):
        raise Problem(412, "clash", "there is one already", headers={"ETag": etag(version)})
