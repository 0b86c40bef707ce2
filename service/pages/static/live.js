// What several pages do while one types: send the form, put the answer in place. Every page works without it.

/** Call `work` when nothing was typed for `ms` milliseconds. */
export function whenQuiet(work, ms) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(work, ms);
  };
}

/**
 * Keep a part of the page in step with a form: whenever the form changes it is sent to `address`, and the
 * answer (HTML of this server) takes the place of what is inside `target`. An answer that was overtaken is
 * dropped; without an answer the part stays as it is and is marked as old.
 */
export function keepInStep(form, address, target, { quietMs = 150, after = () => {} } = {}) {
  let latest = 0;
  async function send() {
    const mine = ++latest;
    try {
      const answer = await fetch(address, { method: "POST", body: new URLSearchParams(new FormData(form)), headers: { Accept: "text/html" } });
      const html = await answer.text();
      if (mine !== latest) return;
      if (answer.ok || answer.status === 422) target.innerHTML = html;
      target.toggleAttribute("data-old", !answer.ok && answer.status !== 422);
      after(answer);
    } catch {
      if (mine === latest) target.toggleAttribute("data-old", true);
    }
  }
  const soon = whenQuiet(send, quietMs);
  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  return send;
}
