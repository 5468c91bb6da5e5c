/* What this browser keeps by names. Storage may be blocked or full: then it is kept in this page,
   for as long as that is open. */
const here = new Map();

function tried(action, refused) {
  try {
    return action();
  } catch (error) {
    if (!(error instanceof DOMException)) throw error;
    return refused;
  }
}

/* The text that was kept; null for none. */
export function get(name) {
  return here.has(name) ? here.get(name) : tried(() => localStorage.getItem(name), null);
}

/* Keeps a text, or with null forgets it. Whether it outlasts this page. */
export function set(name, text) {
  const done = tried(() => {
    if (text === null) localStorage.removeItem(name);
    else localStorage.setItem(name, text);
    return true;
  }, false);
  if (done) here.delete(name);
  else here.set(name, text);
  return done;
}
