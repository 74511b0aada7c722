// A button for the browser's own printing; without a script there is none.
for (const button of document.querySelectorAll("button.print")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
