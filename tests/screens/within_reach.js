// What axe-core does not ask: words for every picture, targets of 44 px, text of 16 px and more, and
// no word of colour science or of its factory outside folds, and no words that are cut off.
// Gives a sentence for each thing on the page that falls short.

() => {
  const LEAST_TARGET = 44, LEAST_TEXT = 16;
  const HELD = "label, [data-testid=stTextInputRootElement], [data-testid=stNumberInputContainer], " +
    "[data-testid=stMultiSelect] > div, [data-testid=stSelectbox], div:has(> [data-testid=stSliderThumbValue])";
  const FOREIGN = /CIE|[Lab]\*|\u0394|\b(interval|reflectance|profile|trials?|tolerance|delta|match|chroma|strength)\b|% (stronger|weaker)/i;
  const withShadows = (root) => [...root.querySelectorAll("*")].flatMap((one) =>
    one.shadowRoot ? [one, ...withShadows(one.shadowRoot)] : [one]);
  const isSeen = (one) => {
    const { width, height } = one.getBoundingClientRect();
    return width > 2 && height > 2 && one.checkVisibility({ visibilityProperty: true }) &&
      !one.closest("[aria-hidden=true], [data-testid^=hidden-], [data-testid=stIconMaterial]");
  };
  const named = (one) =>
    `${one.tagName.toLowerCase()} '${(one.textContent || one.getAttribute("alt") || one.getAttribute("aria-label") || "").trim().slice(0, 60)}'` +
    ` in ${one.closest("[data-testid]")?.dataset.testid}`;
  const short = [];
  for (const one of withShadows(document.body).filter(isSeen)) {
    // A table draws itself on a canvas, and lies beside it as a table of words.
    const told = one.getAttribute("alt") || one.getAttribute("aria-label") || "";
    if (one.matches("img, canvas, [role=img]") && !one.closest("[data-testid=stDataFrame]") && !told) {
      short.push(`no words: ${named(one)}`);
    }
    const size = parseFloat(getComputedStyle(one).fontSize);
    const says = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if (FOREIGN.test(`${says ? one.textContent : ""} ${told}`) && !one.closest("details > :not(summary)")) {
      short.push(`foreign: ${named(one)}`);
    }
    if (says && getComputedStyle(one).textOverflow === "ellipsis" &&
        one.scrollWidth > one.clientWidth) short.push(`cut off: ${named(one)}`);
    if (says && size < LEAST_TEXT) short.push(`text of ${size} px: ${named(one)}`);
    if (one.matches("button, a[href], input, select, textarea, summary, [role=radio], [role=slider]")) {
      const { width, height } = (one.closest(HELD) ?? one).getBoundingClientRect();
      if (Math.min(width, height) < LEAST_TARGET - 0.5) {
        short.push(`target of ${Math.round(width)} x ${Math.round(height)} px: ${named(one)}`);
      }
    }
  }
  return [...new Set(short)];
};
