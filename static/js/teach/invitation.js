/* How to join, large enough for the back row: as it is when it is asked for. */
export function setUpInvitation() {
  const dialog = document.getElementById("invite");
  document.getElementById("control-invite").addEventListener("click", () => {
    dialog.showModal();
    htmx.ajax("GET", dialog.dataset.now, { target: "#invitation", swap: "innerHTML" });
  });
}
