// Copies a field to the clipboard and says so.
for (const button of document.querySelectorAll("[data-copy]")) {
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
    } catch {
      document.execCommand("copy"); // plain http: there is no clipboard interface
    }
    button.textContent = button.dataset.copied;
  });
}
