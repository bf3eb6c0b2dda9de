// Shows a text as the class will read it while it is written, and leads from what the
// checks find to its line.
const form = document.querySelector("form[data-writing]");
const text = form.querySelector("textarea");
const previews = document.querySelector("[data-previews]");
const said = previews.querySelector("[role=status]");
const follows = said.textContent;
const button = form.querySelector("[data-preview]");
let asked, shown, timer, drawn = 0;

previews.hidden = false;
button.hidden = true;

// A frame of its own for each preview: so the one before stands until the next is there,
// and going back in the browser leads to the page before this one.
function preview() {
  clearTimeout(timer);
  const frame = document.createElement("iframe");
  frame.name = "preview-" + ++drawn;
  frame.title = "Preview";
  frame.className = "coming";
  frame.sandbox = "allow-same-origin allow-popups allow-popups-to-escape-sandbox";
  asked?.remove();
  asked = frame;
  previews.append(frame);
  frame.addEventListener("load", () => show(frame));
  button.formTarget = frame.name;
  form.requestSubmit(button);
}

function show(frame) {
  const page = frame.contentDocument; // none where the browser shows an error
  if (frame !== asked || page?.URL === "about:blank") return;
  asked = undefined;
  const says = page ? follows : "The server does not answer with a preview. What you see here is from before. What you typed is still there.";
  if (said.textContent !== says) said.textContent = says;
  if (!page) {
    frame.remove();
    return;
  }
  const at = shown?.contentWindow?.scrollY ?? 0;
  shown?.remove();
  shown = frame;
  frame.className = "";
  frame.contentWindow.scrollTo(0, at);
  leadToLines(page);
  for (const link of page.querySelectorAll("a[href^='#']")) link.target = "_self"; // others open a tab
}

function leadToLines(within) {
  for (const link of within.querySelectorAll("a[data-line]")) {
    link.href = "#text";
    link.addEventListener("click", (event) => {
      event.preventDefault();
      toLine(Number(link.dataset.line));
    });
  }
}

function toLine(n) {
  const lines = text.value.split("\n");
  const begin = lines.slice(0, n - 1).reduce((sum, line) => sum + line.length + 1, 0);
  text.blur(); // focusing scrolls to what is selected
  text.setSelectionRange(begin, begin + (lines[n - 1] ?? "").length);
  text.focus();
}

text.addEventListener("input", () => {
  form.querySelector("[data-checks]").hidden = true; // they are about what was typed before
  clearTimeout(timer);
  timer = setTimeout(preview, 600);
});
form.querySelector("#drawing")?.addEventListener("input", preview);

let leaving = false;
form.addEventListener("submit", (event) => { leaving = event.submitter !== button; });
addEventListener("beforeunload", (event) => {
  if (!leaving && (text.value !== text.defaultValue || "unkept" in form.dataset)) event.preventDefault();
});

leadToLines(form);
preview();
