// Shows the print buttons, which are hidden where there is no script, and makes
// them print the page.
for (const button of document.querySelectorAll("button[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
