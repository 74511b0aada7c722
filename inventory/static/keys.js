// "/" puts the cursor into the page's search field.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  const search = document.querySelector("input[type=search]");
  if (event.key !== "/" || typing || !search) return;
  event.preventDefault();
  search.focus();
});
