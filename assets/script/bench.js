// Redraws a demonstration while its values are typed: asks for the page of the
// form's values and takes its answer over. Without this script the button does it.
const wait = 300;

for (const form of document.querySelectorAll("form[data-update]")) {
  const answer = document.getElementById(form.dataset.update);
  let timer = 0;
  let asked = null;

  const update = async () => {
    const values = new URLSearchParams(new FormData(form));
    const address = `${new URL(form.action).pathname}?${values}`;
    asked?.abort();
    asked = new AbortController();
    try {
      const reply = await fetch(address, { signal: asked.signal });
      if (reply.status !== 200 && reply.status !== 422) return;
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      const open = answer.querySelector("details")?.open;
      answer.replaceChildren(...page.getElementById(form.dataset.update).childNodes);
      if (open) answer.querySelector("details")?.setAttribute("open", "");
      takeFaults(page);
      history.replaceState(null, "", address);
    } catch (problem) {
      if (problem.name !== "AbortError") throw problem;
    }
  };

  // What is said beside each field follows too; the field itself is left alone,
  // since somebody may be typing in it.
  const takeFaults = (page) => {
    for (const field of form.querySelectorAll("[data-key]")) {
      const drawn = page.querySelector(`[data-key="${field.dataset.key}"]`);
      const [input, told] = [field.querySelector("input, select"), drawn?.querySelector(".wrong")];
      field.className = drawn?.className ?? field.className;
      field.querySelector(".wrong")?.remove();
      input.toggleAttribute("aria-invalid", false);
      input.removeAttribute("aria-describedby");
      if (told) {
        field.append(told);
        input.setAttribute("aria-invalid", "true");
        input.setAttribute("aria-describedby", told.id);
      }
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(update, wait);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(timer);
    update();
  });
}
