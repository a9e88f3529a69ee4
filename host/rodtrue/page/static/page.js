// Theme, the Enter key as the foot switch, and what a screen reader hears.
"use strict";
(() => {
  const root = document.documentElement;
  const wanted = () => localStorage.getItem("rodtrue-theme")
    || (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light");
  root.dataset.theme = wanted();
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { root.dataset.theme = wanted(); });

  window.rodtruePage = {
    turnTheme() {
      localStorage.setItem("rodtrue-theme", root.dataset.theme === "dark" ? "light" : "dark");
      root.dataset.theme = wanted();
    },
    // A new question: whoever was in the old one by keyboard is put before the new one, nobody else is moved.
    renewed() {
      const heading = document.getElementById("rt-asked");
      const lost = document.activeElement === document.body || document.activeElement === null;
      if (heading && lost) heading.focus({ preventScroll: true });
    },
  };

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.repeat) return;
    const at = document.activeElement;
    if (at && at !== document.body && at.id !== "rt-asked") return;
    const answer = document.querySelector("[data-enter]");
    if (answer) { event.preventDefault(); answer.click(); }
  });
})();
