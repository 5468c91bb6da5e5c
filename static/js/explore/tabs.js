/* The tabs of the side panel, by pointer and by arrow keys (the pattern of the ARIA practices). */
const tabs = [...document.querySelectorAll('[role="tab"]')];
const small = matchMedia("(max-width: 56.24rem)");

export function setUpTabs(onShow) {
  for (const tab of tabs) {
    tab.addEventListener("click", () => { showTab(name(tab)); onShow(name(tab)); });
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
  small.addEventListener("change", () => { if (!small.matches && shownTab() === "machine") showTab("program"); });
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
