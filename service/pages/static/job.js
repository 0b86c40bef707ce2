// Follow jobs: ask how far each is, show it, and go on when it is done.
const EVERY_MS = 700;

async function follow(section) {
  const place = section.querySelector(".place");
  const now = () => place.querySelector(".now").dataset;
  while (now().live) {
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
    try {
      const answer = await fetch(`/jobs/${section.dataset.job}/now`, { headers: { Accept: "text/html" } });
      if (answer.ok) place.innerHTML = await answer.text();
    } catch {
      // The server is away for the moment; what is shown stays.
    }
  }
  if (section.dataset.follow && now().address) location.assign(now().address);
  else location.reload();
}

for (const section of document.querySelectorAll("[data-job]")) {
  if (section.querySelector(".now").dataset.live) follow(section);
}
