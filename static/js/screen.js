/* Puts another frame on the screen and touches only what differs: so little has to be laid out and
   painted again, and who stands somewhere with the keyboard stays there. */

/* A frame as nodes, which can be done long before it is shown. */
export function parse(text) {
  const template = document.createElement("template");
  template.innerHTML = text;
  return template.content;
}

/* Makes the children of an element those of another. The nodes that are new are taken from it. */
export function put(old, fresh) {
  let at = old.firstChild;
  for (const each of [...fresh.childNodes]) {
    const found = next(at, each);
    if (!found) {
      old.insertBefore(each, at);
      continue;
    }
    // What stood before it is no more.
    while (at !== found) at = removed(at);
    change(found, each);
    at = found.nextSibling;
  }
  while (at) at = removed(at);
}

function removed(node) {
  const following = node.nextSibling;
  node.remove();
  return following;
}

/* The first of these siblings that stands for the same thing. */
function next(sibling, wanted) {
  for (let each = sibling; each; each = each.nextSibling) if (isSame(each, wanted)) return each;
  return null;
}

/* Text is the same as text only in its place; an element is by its id, or else by its first class. */
function isSame(old, fresh) {
  return old.nodeName === fresh.nodeName && old.id === fresh.id && old.classList?.[0] === fresh.classList?.[0];
}

function change(old, fresh) {
  if (old.isEqualNode(fresh)) return;
  if (old.nodeType !== Node.ELEMENT_NODE) {
    old.nodeValue = fresh.nodeValue;
    return;
  }
  for (const { name, value } of fresh.attributes) {
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name)) old.removeAttribute(name);
  put(old, fresh);
}
