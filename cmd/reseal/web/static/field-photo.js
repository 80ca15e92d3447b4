// Photos: made smaller in the browser, kept as blobs until they are sent.
const LONGEST = 1600; // px

async function smaller(file) {
  const picture = await createImageBitmap(file, {imageOrientation: "from-image"});
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return new Promise((done, fail) => canvas.toBlob(b => b ? done(b) : fail(new Error("no picture")), "image/jpeg", 0.8));
}

// Photos is the fieldset of photos in a form: list holds the blobs.
export class Photos {
  constructor(form, changed) {
    this.list = [];
    this.changed = changed;
    this.thumbs = form.querySelector(".thumbs");
    const input = form.querySelector("#photo");
    input.addEventListener("change", async () => {
      const files = [...input.files];
      input.value = "";
      for (const file of files) {
        try {
          this.list.push(await smaller(file));
        } catch {
          alertBeside(this.thumbs, `${file.name} cannot be read as a picture.`);
        }
      }
      this.show();
      changed();
    });
  }

  set(list) {
    this.list = list || [];
    this.show();
  }

  show() {
    this.thumbs.querySelectorAll("img").forEach(i => URL.revokeObjectURL(i.src));
    this.thumbs.replaceChildren(...this.list.map((blob, i) => {
      const item = document.createElement("li");
      const picture = document.createElement("img");
      picture.src = URL.createObjectURL(blob);
      picture.alt = `Photo ${i + 1}`;
      const out = document.createElement("button");
      out.type = "button";
      out.className = "second";
      out.textContent = "Remove";
      out.setAttribute("aria-label", `Remove photo ${i + 1}`);
      out.addEventListener("click", () => {
        this.list.splice(i, 1);
        this.show();
        this.changed();
      });
      item.append(picture, out);
      return item;
    }));
  }
}

function alertBeside(element, text) {
  const item = document.createElement("li");
  item.className = "wrong";
  item.textContent = text;
  element.append(item);
}
