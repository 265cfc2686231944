// Brings a place of the page in sight once, when what is shown there is new: the top of another
// page, or what was wrong. Otherwise the page stays where it was scrolled to.

export default function (component) {
  const { data, parentElement } = component;
  const mark = parentElement.querySelector("span");
  if (mark.dataset.shown === data.shown) return;
  mark.dataset.shown = data.shown;
  mark.scrollIntoView({ block: data.block });
}
