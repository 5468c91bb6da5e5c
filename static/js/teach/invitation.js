/* How to join, large enough for the back row. */
export function setUpInvitation() {
  const dialog = document.getElementById("invite");
  document.getElementById("control-invite").addEventListener("click", () => dialog.showModal());
}
