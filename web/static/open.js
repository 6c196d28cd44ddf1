// Opens a reason where its figure stands. Without this file the same links lead to a page of their own.
async function opened(link, place) {
  const address = new URL(link.href);
  address.searchParams.set("bare", "1");
  const answer = await fetch(address, { headers: { accept: "text/html" } });
  if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
  place.innerHTML = await answer.text();
}

// Where a reason is put: in a row of its own below a table's row, behind a line or heading, at the end of anything else.
function placeFor(link) {
  const cell = link.closest("td");
  if (cell) {
    const row = document.createElement("tr");
    const place = document.createElement("td");
    place.colSpan = 20;
    row.append(place);
    return { place, whole: row, put: () => cell.parentElement.after(row), there: cell.parentElement.nextElementSibling };
  }
  const place = document.createElement("div");
  const holder = link.closest("dd, li, details, p, h2, h3, .price > div") ?? link.parentElement;
  const behind = holder.matches("p, h2, h3, .price > div");
  const there = behind ? holder.nextElementSibling : holder.lastElementChild;
  return { place, whole: place, put: () => (behind ? holder.after(place) : holder.append(place)), there };
}

document.addEventListener("click", async (event) => {
  const link = event.target.closest("a.why");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  const { place, whole, put, there } = placeFor(link);
  if (there?.classList.contains("opened")) {
    there.remove();
    link.setAttribute("aria-expanded", "false");
    if (there.dataset.of === link.href) return;
  }
  whole.className = "opened";
  whole.dataset.of = link.href;
  place.textContent = "…";
  put();
  try {
    await opened(link, place);
    link.setAttribute("aria-expanded", "true");
  } catch {
    location.assign(link.href);
  }
});

for (const part of document.querySelectorAll("details[data-load]")) {
  part.addEventListener("toggle", async () => {
    const link = part.querySelector("a.load");
    if (!part.open || !link) return;
    const place = document.createElement("div");
    place.textContent = "Being worked out …";
    link.hidden = true;
    part.append(place);
    try {
      await opened(link, place);
      link.remove();
    } catch {
      place.remove();
      link.hidden = false;
    }
  });
}
