// The short code: big keys beside the phone's own, paste, digits of any script, in groups of four.
home.keys = (() => {
  const DIGITS = 8;
  const ZEROS = [0x0660, 0x06f0]; // Arabic-Indic and Extended Arabic-Indic digits (Unicode 16.0)
  const form = document.querySelector("[data-code-form]");
  const field = form.querySelector("[name=code]");
  const button = form.querySelector("[data-join-code]");

  const digitsOf = (typed) =>
    [...typed]
      .map((letter) => {
        const zero = ZEROS.find((at) => letter >= String.fromCharCode(at) && letter <= String.fromCharCode(at + 9));
        return zero === undefined ? letter : String(letter.charCodeAt(0) - zero);
      })
      .filter((letter) => letter >= "0" && letter <= "9")
      .slice(0, DIGITS)
      .join("");

  function show(typed) {
    const digits = digitsOf(typed);
    field.value = digits.replace(/^(\d{4})(?=\d)/, "$1 ");
    button.disabled = digits.length !== DIGITS;
  }

  field.addEventListener("input", () => show(field.value));
  for (const key of form.querySelectorAll("[data-key]"))
    key.addEventListener("click", () => {
      const digits = digitsOf(field.value);
      show(key.dataset.key ? digits + key.dataset.key : digits.slice(0, -1));
    });
  return { form, button, code: () => digitsOf(field.value) };
})();
