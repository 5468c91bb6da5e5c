/* A bar at the foot of the window has as many rows as its buttons need, at any zoom: what stands
   above it is told how high it is. All of the page is styled anew by that, so it is not told of a
   bar that stands elsewhere. */
export function measureBar(bar) {
  new ResizeObserver(() => {
    if (bar.getBoundingClientRect().bottom < innerHeight - 1) return;
    document.documentElement.style.setProperty("--under", `${bar.offsetHeight}px`);
  }).observe(bar);
}
