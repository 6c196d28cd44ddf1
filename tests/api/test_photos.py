"""Photographs: upright, small, without where and when they were taken; refused where they are no photographs."""

import hashlib
import io
import struct
import zlib
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

API = "/api/v1"
ORIENTATION, GPS = 0x0112, 0x8825
JPEG = {"content-type": "image/jpeg"}


def photo(size: tuple[int, int] = (400, 300), kind: str = "JPEG", *, noise: bool = False, turned: int = 1) -> bytes:
    """A picture whose left half is red and whose right half is blue, with a place and a device written into it."""
    picture = Image.effect_noise(size, 200).convert("RGB") if noise else Image.new("RGB", size, "red")
    if not noise:
        picture.paste("blue", (size[0] // 2, 0, *size))
    exif = Image.Exif()
    exif[ORIENTATION], exif[0x0110], exif[0x9003] = turned, "Telephone 7", "2026:03:02 09:00:00"
    exif.get_ifd(GPS).update({1: "N", 2: (52.0, 12.0, 3.5), 3: "W", 4: (1.0, 2.0, 3.0)})
    out = io.BytesIO()
    picture.save(out, kind, exif=exif, **({"quality": 95} if kind == "JPEG" else {}))
    return out.getvalue()


def put(client: TestClient, job_id: str, name: str, data: bytes, **headers: str) -> Any:
    return client.put(f"{API}/jobs/{job_id}/survey/photos/{name}", content=data, headers=JPEG | headers)


def test_a_photo_comes_back_upright_and_says_nothing_of_place_and_device(client: TestClient, job_id: str) -> None:
    data = photo(turned=6)
    assert b"Telephone 7" in data
    saved = put(client, job_id, "boiler.jpg", data)
    assert saved.status_code == 201, saved.text
    # Orientation 6 (Exif 2.3, tag 274): turn a quarter clockwise to see it upright; red, from left, goes to the top.
    assert (saved.json()["width_px"], saved.json()["height_px"]) == (300, 400)
    kept = client.get(f"{API}/jobs/{job_id}/survey/photos/boiler.jpg")
    assert kept.headers["content-type"] == "image/jpeg"
    assert kept.headers["etag"] == saved.headers["etag"] == f'"{hashlib.sha256(kept.content).hexdigest()}"'
    assert kept.headers["x-content-type-options"] == "nosniff"
    picture = Image.open(io.BytesIO(kept.content))
    assert not picture.getexif() and b"Telephone" not in kept.content and b"Exif" not in kept.content
    top, bottom = picture.getpixel((150, 50)), picture.getpixel((150, 350))
    assert top[0] > 200 > 60 > top[2] and bottom[2] > 200 > 60 > bottom[0]  # type: ignore[index]
    again = client.get(kept.request.url.path, headers={"If-None-Match": kept.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_large_photo_is_made_small(client: TestClient, job_id: str) -> None:
    data = photo((3000, 2000), noise=True)
    assert len(data) > 2_000_000
    saved = put(client, job_id, "wall.jpg", data).json()
    assert saved["size_bytes"] <= 300_000 and max(saved["width_px"], saved["height_px"]) <= 1600
    assert saved["width_px"] / saved["height_px"] == pytest.approx(1.5, abs=0.01)
    assert len(client.get(f"{API}/jobs/{job_id}/survey/photos/wall.jpg").content) == saved["size_bytes"]


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_are_kept_as_jpeg(client: TestClient, job_id: str, kind: str) -> None:
    saved = put(client, job_id, "plate", photo(kind=kind), **{"content-type": f"image/{kind.lower()}"})
    assert saved.status_code == 201 and saved.json()["media_type"] == "image/jpeg"


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def bomb() -> bytes:
    """A PNG (ISO/IEC 15948) of 30,000 × 30,000 pixels, one bit each, in some hundred kilobytes."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 30_000, 30_000, 1, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(bytes(3751) * 30_000, 9)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("data", "media_type", "status", "words"),
    [
        (b"", "image/jpeg", 422, "is not image/jpeg"),
        (b"GIF89a", "image/gif", 415, "image/jpeg"),
        (b"<svg/>", "image/svg+xml", 415, "image/jpeg"),
        (b"<html>", "image/jpeg", 422, "is not image/jpeg"),
        (photo(kind="PNG"), "image/jpeg", 422, "is not image/jpeg"),
        (photo()[:2000], "image/jpeg", 422, "broken"),
        (bomb(), "image/png", 422, "more than 50 million"),
        (photo(), "application/json", 415, "image/jpeg"),
    ],
    ids=["empty", "gif", "svg", "html", "png as jpeg", "cut off", "bomb", "json"],
)
def test_what_is_no_photo_is_refused(
    client: TestClient, job_id: str, data: bytes, media_type: str, status: int, words: str
) -> None:
    answer = put(client, job_id, "x.jpg", data, **{"content-type": media_type})
    assert answer.status_code == status and words in answer.json()["detail"], answer.text
    assert client.get(f"{API}/jobs/{job_id}/photos").json() == []


def test_a_form_with_a_file_works_like_the_bare_body(client: TestClient, job_id: str) -> None:
    path = f"{API}/jobs/{job_id}/survey/photos/form.jpg"
    assert client.put(path, files={"file": ("a.jpg", photo(), "image/jpeg")}).status_code == 201
    assert client.put(path, files={"other": b"x"}).status_code == 422


def test_two_people_saving_one_photo_clash_and_the_same_again_changes_nothing(client: TestClient, job_id: str) -> None:
    first = put(client, job_id, "meter.jpg", photo(), **{"If-None-Match": "*"})
    again = put(client, job_id, "meter.jpg", photo())
    assert (first.status_code, again.status_code) == (201, 200) and again.headers["etag"] == first.headers["etag"]
    assert put(client, job_id, "meter.jpg", photo(), **{"If-None-Match": "*"}).status_code == 412
    other = put(client, job_id, "meter.jpg", photo((500, 300)), **{"If-Match": first.headers["etag"]})
    assert other.status_code == 200 and other.headers["etag"] != first.headers["etag"]
    late = put(client, job_id, "meter.jpg", photo((600, 300)), **{"If-Match": first.headers["etag"]})
    assert late.status_code == 412 and late.headers["etag"] == other.headers["etag"]
    path = f"{API}/jobs/{job_id}/survey/photos/meter.jpg"
    assert client.delete(path, headers={"If-Match": first.headers["etag"]}).status_code == 412
    assert [client.delete(path).status_code for _ in range(2)] == [204, 204]
    assert client.get(path).status_code == 404


def test_the_list_says_which_the_survey_names(client: TestClient, job_id: str) -> None:
    for name in ("a.jpg", "b.jpg"):
        put(client, job_id, name, photo())
    named = [{"name": "a.jpg", "about": "the boiler"}, {"name": "not yet there.jpg"}]
    assert client.put(f"{API}/jobs/{job_id}/survey/photos", json=named).status_code in (200, 201)
    listed = client.get(f"{API}/jobs/{job_id}/photos").json()
    assert [(one["name"], one["named"]) for one in listed] == [("a.jpg", True), ("b.jpg", False)]


def test_photos_go_with_an_erased_customer_and_none_come_after(
    client: TestClient, sales: TestClient, new_job: Callable[..., str]
) -> None:
    job_id = new_job(client)
    put(client, job_id, "a.jpg", photo())
    assert put(sales, job_id, "b.jpg", photo()).status_code == 404, "a job of somebody else"
    done = client.post(f"{API}/jobs/{job_id}/party/erasure", json={"reason": "asked for it"})
    assert done.json()["photos_deleted"] == 1
    assert client.get(f"{API}/jobs/{job_id}/photos").json() == []
    assert put(client, job_id, "a.jpg", photo()).status_code == 409
