// A button with data-copy="ID" copies that field; it shows only where the browser can copy.
for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    await navigator.clipboard.writeText(field.value);
    field.select();
    document.querySelector("[data-copied]").textContent = "Copied.";
  });
}
