/* The form under the board for what is written there, and the choice between two versions. */
import { forgetHalf, halfOf, keepHalf, putHalfBack } from "./halves.js";
import { onChoice, send } from "./sending.js";

const STILL_MILLISECONDS = 400;

export function setUpPanel({ note }) {
  const panel = document.getElementById("panel");
  const area = document.getElementById("text");
  let from = null;
  let conflict = null;

  function fill(html, leads = true) {
    panel.innerHTML = html;
    panel.hidden = false;
    // Only what is under the board scrolls; on a phone that is the page, which is led there unless
    // somebody is writing.
    const still = getComputedStyle(document.body).overflowY === "hidden";
    if (still) panel.parentElement.scrollTop = panel.offsetTop;
    else if (leads) panel.scrollIntoView({ block: "start" });
  }

  function close() {
    panel.hidden = true;
    panel.replaceChildren();
    if (from?.isConnected && from !== document.body) from.focus();
    from = null;
  }

  /* at: the line of what is to be changed, and what it was, for a form that is there for something
     new as well. */
  async function open(name, at, was) {
    if (panel.hidden) from = document.activeElement;
    const half = halfOf(at ? `${name} ${was}` : name);
    const answer = await send("panel", { panel: name, ...half, ...(at ? { at: Number(at), was } : {}) });
    if (!answer?.panel) return;
    fill(answer.panel);
    const form = panel.querySelector("form");
    // (The form of something that is there comes back with what was half typed in it already.)
    const filledIn = at && Object.keys(half).length > 0;
    if (putHalfBack(form) || filledIn) {
      const back = document.createElement("p");
      back.className = "lead";
      back.innerHTML = "What you had typed is back. <button type=\"button\" data-afresh>Start afresh</button>";
      form.querySelector("h2").after(back);
    }
    openOthers();
    const first = form.querySelector("textarea, input:not([type=hidden]), select") ?? panel;
    first.focus({ preventScroll: true });
  }

  /* What is chosen is never folded away. */
  function openOthers() {
    const others = panel.querySelector(".others");
    if (others) others.open ||= Boolean(others.querySelector("input:checked"));
  }

  /* What is longer than the board has room for is told while it is typed. */
  function tellRoom(field) {
    const place = field.form.querySelector(".room");
    if (!place || field !== field.form.elements.words) return;
    const more = field.value.trim().length - Number(field.dataset.room);
    place.textContent = more > 0 ? `${more} letter${more === 1 ? "" : "s"} more than the board has room for: say it in two cues, or it covers a part of the picture.` : "";
  }

  const values = (form) => Object.fromEntries(new FormData(form));

  /* The same form once more, for another subject or place of the board; what was typed stays. */
  async function again(form) {
    const answer = await send("panel", { panel: form.dataset.do, ...values(form) });
    // Meanwhile it may have been closed, or another one opened.
    if (!answer?.panel || !form.isConnected) return;
    const { id, name, value, selectionStart, selectionEnd } =
      form.contains(document.activeElement) ? document.activeElement : {};
    const named = (fold) => fold.id || fold.className;
    const opened = [...panel.querySelectorAll("details[open]")].map(named);
    panel.innerHTML = answer.panel;
    putHalfBack(panel.querySelector("form"));
    // What was unfolded while the answer was on its way stays so.
    for (const each of panel.querySelectorAll("details")) each.open ||= opened.includes(named(each));
    openOthers();
    const same = id ? `#${id}` : name ? `[name="${name}"][value="${CSS.escape(value)}"]` : null;
    const there = same && panel.querySelector(same);
    there?.focus({ preventScroll: true });
    // Who is typing there goes on where the cursor was.
    if (there?.value === value && typeof selectionStart === "number") there.setSelectionRange(selectionStart, selectionEnd);
  }

  /* What the program of a form gives, before it is written; the rest of the form stays as it is. */
  async function tellGiven(form) {
    const answer = await send("panel", { panel: form.dataset.do, ...values(form) });
    if (!answer?.panel || !form.isConnected) return;
    const made = new DOMParser().parseFromString(answer.panel, "text/html").getElementById("gives");
    form.querySelector("#gives").replaceChildren(...made.childNodes);
    // Something else has been typed meanwhile: that is asked for once it is still.
    if (soon) return;
    form.querySelector("#gives").classList.remove("stale");
  }

  /* Once nothing has been typed for a moment. What stands there is not true until then, and keeps
     its place: nothing moves away from under the pointer when a field is left. */
  let soon = 0;
  function tellGivenSoon(form) {
    form.querySelector("#gives").classList.add("stale");
    clearTimeout(soon);
    soon = setTimeout(() => {
      soon = 0;
      tellGiven(form);
    }, STILL_MILLISECONDS);
  }

  /* The board has gone to another step, or another scene: a form offers what comes there. */
  function follow(scene) {
    const form = panel.querySelector("form[data-follow]");
    if (form && (scene || form.dataset.follow === "step")) again(form);
  }

  panel.addEventListener("input", (event) => {
    keepHalf(event.target.form);
    tellRoom(event.target);
    if (event.target.matches("[data-gives]")) tellGivenSoon(event.target.form);
  });
  panel.addEventListener("change", (event) => {
    keepHalf(event.target.form);
    if (event.target.dataset.again) again(event.target.form);
  });
  panel.addEventListener("toggle", (event) => {
    // Own answers count where they are open.
    const mark = event.target.querySelector("[name=own]");
    if (mark) mark.value = event.target.open ? "on" : "";
  }, true);
  panel.addEventListener("click", (event) => {
    if (event.target.closest("[data-close]")) close();
    if (event.target.closest("[data-afresh]")) {
      const form = event.target.form;
      forgetHalf(form);
      open(form.dataset.do, form.elements.at?.value, form.elements.was?.value);
    }
  });
  panel.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
    // One line of words: Enter writes it.
    const words = event.target.matches("textarea:not(.code)");
    if (words && event.key === "Enter" && !event.shiftKey) {
      event.preventDefault();
      event.target.form.requestSubmit();
    }
  });
  panel.addEventListener("submit", async (event) => {
    event.preventDefault();
    const form = event.target;
    // What is on its way is not written once more by a second press.
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    try {
      if (form.id === "choose") await settle(form);
      else await write(form);
    } finally {
      delete form.dataset.busy;
    }
  });

  async function write(form) {
    const answer = await send("do", { change: form.dataset.do, ...values(form) });
    if (answer?.done) {
      forgetHalf(form);
      // A field that goes while it has the cursor tells of its change once more.
      delete form.dataset.kept;
      return close();
    }
    const wrong = form.querySelector(".wrong[role=alert]");
    if (!answer?.wrong || !wrong) return;
    // It is told where it was typed, and only there.
    wrong.textContent = `${answer.wrong} ${answer.mend}`;
    note.textContent = "";
  }

  async function settle(form) {
    const choices = [...form.querySelectorAll("fieldset")].map((each) => each.querySelector("[value=theirs]").checked);
    const { against, digest, mine, version, base, sent } = conflict;
    if (area.value !== sent) {
      // Letters have come since: they are in no version that could be chosen from.
      await send(against === "file" ? "save" : "now");
      tell("You have written more meanwhile. Look once more at what differs, then keep it.");
      return;
    }
    const answer = await send("settle", { choices, against, digest, version, base, text: mine });
    if (!answer) return;
    tell("The two versions are one again, but not saved yet. Press Save to keep them.");
  }

  function tell(words) {
    note.textContent = words;
    note.classList.remove("wrong");
  }

  onChoice((answer, sent, what, base) => {
    conflict = { ...answer, sent, base };
    tell(what === "save" ? "Not saved: there are two versions. Choose what to keep first."
      : "There are two versions. Choose what to keep; nothing is saved before that.");
    document.getElementById("kept").textContent = "Not saved: there are two versions.";
    // Who is writing goes on writing; it stays open under the board.
    const typing = what === "now" && document.activeElement === area;
    if (panel.hidden || !panel.querySelector("#choose")) from = area;
    fill(answer.choose, !typing);
    if (!typing) panel.querySelector("input:checked")?.focus({ preventScroll: true });
  });
  /* Once one text is taken there are no two versions any more; the file's stays until it is saved. */
  function settled(what) {
    if (!conflict || (conflict.against === "file" && what !== "settle" && what !== "save")) return;
    conflict = null;
    if (panel.querySelector("#choose")) close();
  }
  // What the server has refused stands on this page alone.
  addEventListener("beforeunload", (event) => {
    if (conflict?.against === "window") event.preventDefault();
  });
  return { open, follow, settled, isTorn: () => conflict !== null };
}
