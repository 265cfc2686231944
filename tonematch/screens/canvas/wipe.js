// Two pictures of one place, one over the other: as far as the slider stands, the earlier one
// shows. Words are set as text, never as HTML.

export default function (component) {
  const { data, parentElement } = component;
  const pictures = parentElement.querySelector(".pictures");
  const [after, before] = parentElement.querySelectorAll("img");
  const [left, right] = parentElement.querySelectorAll("figcaption span");
  const slider = parentElement.querySelector("input");

  const show = () => {
    pictures.style.setProperty("--at", `${slider.value}%`);
    slider.setAttribute("aria-valuetext", `${slider.value} % of it as ${data.before.words}`);
  };
  for (const [picture, of] of [[before, data.before], [after, data.after]]) {
    picture.src = of.picture;
    picture.alt = of.alt;
  }
  if (slider.dataset.of !== data.before.picture) {
    slider.dataset.of = data.before.picture; // other pictures begin anew, a page drawn again not
    slider.value = data.at;
  }
  left.textContent = data.before.words;
  right.textContent = data.after.words;
  slider.oninput = show;
  // On the picture itself, too: a finger need not find the slider beneath it.
  const follow = (event) => {
    if (event.buttons === 0) return;
    const box = pictures.getBoundingClientRect();
    slider.value = (100 * (event.clientX - box.left)) / box.width;
    show();
  };
  pictures.onpointerdown = follow;
  pictures.onpointermove = follow;
  show();
}
