// Shows the top of the page when another page is chosen; otherwise the page stays where it was
// scrolled to, which on a phone can be far below what matters.

export default function (component) {
  const { data, parentElement } = component;
  const mark = parentElement.querySelector("span");
  if (mark.dataset.room !== undefined && mark.dataset.room !== data.room) {
    mark.scrollIntoView({ block: "start" });
  }
  mark.dataset.room = data.room;
}
