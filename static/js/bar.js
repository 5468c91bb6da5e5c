/* A bar at the foot of the window has as many rows as its buttons need, at any zoom: what stands
   above it is told how high it is. */
export function measureBar(bar) {
  new ResizeObserver(() => {
    document.documentElement.style.setProperty("--under", `${bar.offsetHeight}px`);
  }).observe(bar);
}
