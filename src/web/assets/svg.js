"use strict";
// Drawings made by script: elements of SVG 1.1, sized in pixels of the page so that text is not
// scaled; colours come from the page's own variables, by class.
function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children.filter((c) => c !== "" && c !== null && c !== undefined));
  return element;
}
function drawing(id, title, width, height, ...children) {
  return svg("svg", { class: "drawing", role: "img", "aria-labelledby": id, width, height,
    viewBox: `0 0 ${width} ${height}` }, svg("title", { id }, title), ...children);
}
function drawnText(x, y, text, attributes = {}) {
  return svg("text", { x, y, ...attributes }, text);
}
// A table with a caption, as the drawing's other form.
function table(caption, heads, rows) {
  return h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": caption },
    h("table", {}, h("caption", {}, caption),
      h("thead", {}, h("tr", {}, ...heads.map((head) => h("th", { scope: "col" }, head)))),
      h("tbody", {}, ...rows.map((cells) => h("tr", {}, ...cells.map((cell, i) =>
        (i === 0 ? h("th", { scope: "row" }, cell) : h("td", {}, cell))))))));
}
