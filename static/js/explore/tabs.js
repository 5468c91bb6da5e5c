/* The tabs of the side panel, by pointer and by arrow keys (the pattern of the ARIA practices). */
const tabs = [...document.querySelectorAll('[role="tab"]')];
const small = matchMedia("(max-width: 61.99rem)");

export function setUpTabs() {
  for (const tab of tabs) {
    tab.addEventListener("click", () => showTab(name(tab)));
    tab.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      event.stopPropagation();
      const seen = tabs.filter((each) => each.checkVisibility());
      const to = seen[(seen.indexOf(tab) + by + seen.length) % seen.length];
      to.focus();
      to.click();
    });
  }
  arrange();
  small.addEventListener("change", arrange);
  small.addEventListener("change", () => { if (!small.matches && shownTab() === "machine") showTab("program"); });
}

/* At the left of the tabs, on a phone under them: the order of the page is that of the eye. */
function arrange() {
  const machine = document.querySelector(".machine");
  const focused = machine.contains(document.activeElement) && document.activeElement;
  if (small.matches) machine.parentElement.append(machine);
  else machine.parentElement.prepend(machine);
  if (focused) focused.focus({ preventScroll: true });
}

function name(tab) {
  return tab.id.replace("tab-", "");
}

export function shownTab() {
  return name(tabs.find((tab) => tab.ariaSelected === "true"));
}

export function showTab(wanted) {
  const chosen = tabs.find((tab) => name(tab) === wanted);
  if (!chosen) return;
  document.body.dataset.tab = wanted;
  for (const tab of tabs) {
    const on = tab === chosen;
    tab.ariaSelected = String(on);
    tab.tabIndex = on ? 0 : -1;
    document.getElementById(tab.getAttribute("aria-controls")).hidden = !on;
  }
  // Some panels are fetched when they come into sight.
  chosen.dispatchEvent(new Event("shown"));
}

/* On a phone the machine and the panel take turns: a press shows the machine. */
export function showMachine() {
  if (small.matches && ["program", "memory", "task", "card"].includes(shownTab())) showTab("machine");
}
