// Opens a reason where its figure stands. Without this file the same links lead to a page of their own.
async function opened(link, place) {
  const address = new URL(link.href);
  address.searchParams.set("bare", "1");
  const answer = await fetch(address, { headers: { accept: "text/html" } });
  if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
  place.innerHTML = await answer.text();
}

document.addEventListener("click", async (event) => {
  const link = event.target.closest("a.why");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  const holder = link.closest("dd, li, td, details, p, .price > div") ?? link.parentElement;
  const there = holder.matches(".price > div, p") ? holder.nextElementSibling : holder.lastElementChild;
  if (there?.classList.contains("opened")) {
    const same = there.dataset.of === link.href;
    there.remove();
    link.setAttribute("aria-expanded", "false");
    if (same) return;
  }
  const place = document.createElement("div");
  place.className = "opened";
  place.dataset.of = link.href;
  place.setAttribute("role", "region");
  place.textContent = "…";
  if (holder.matches(".price > div, p")) holder.after(place);
  else holder.append(place);
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
