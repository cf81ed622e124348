// picture is a drawing as a file of its own: black on white, with its face named.
function picture(drawn) {
	const c = drawn.cloneNode(true), box = drawn.viewBox.baseVal;
	c.removeAttribute("class");
	c.setAttribute("xmlns", "http://www.w3.org/2000/svg");
	c.setAttribute("width", box.width);
	c.setAttribute("height", box.height);
	c.setAttribute("font-family", "Arial, Liberation Sans, sans-serif");
	c.insertBefore(svg("rect", {width: box.width, height: box.height, fill: "#ffffff"}), c.querySelector("desc,title")?.nextSibling || c.firstChild);
	return new XMLSerializer().serializeToString(c);
}

function figureTools(figure) {
	if (!figure.querySelector(".chart svg")) return;
	const b = make("button", {type: "button"}, "Save the drawing (SVG)");
	b.addEventListener("click", () => {
		const drawn = [...figure.querySelectorAll(".chart svg")].find(s => s.getBoundingClientRect().width > 0);
		if (drawn) save(fileWord(figure.id.replace(/-figure$/, "") + " " + document.title) + ".svg", "image/svg+xml", picture(drawn));
	});
	const tools = make("div", {class: "tools"}, b);
	const caption = figure.querySelector(":scope > figcaption");
	if (caption) caption.after(tools); else figure.append(tools);
}
