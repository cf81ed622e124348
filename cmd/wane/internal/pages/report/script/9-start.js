findBox();
document.querySelectorAll("main table").forEach(tableTools);
document.querySelectorAll("main figure").forEach(figureTools);
const section = document.getElementById("overlay");
if (section) overlayPage(section);
