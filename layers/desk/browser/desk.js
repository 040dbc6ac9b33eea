// What every page of the desk does: screen light, following tasks, sending files, drawing depths.
import { followTasks } from "./tasks.js";
import { sendFiles } from "./sending.js";
import { drawDepths } from "./depths.js";
import { sayKinds } from "./kinds.js";

function keepLight() {
  const choice = document.getElementById("light");
  const kept = localStorage.getItem("light") ?? "auto";
  choice.value = kept;
  document.documentElement.dataset.light = kept;
  choice.addEventListener("change", () => {
    localStorage.setItem("light", choice.value);
    document.documentElement.dataset.light = choice.value;
  });
}

keepLight();
const water = document.querySelector("[data-water]")?.dataset.water;
if (water !== undefined) followTasks(water);
for (const form of document.querySelectorAll("form.drop")) sendFiles(form);
for (const place of document.querySelectorAll("[data-depths]")) drawDepths(place);
for (const place of document.querySelectorAll("[data-kinds]")) sayKinds(place);
