// Rules for the board's scripts and their tests; test_board.py runs them. The linter lends its own recommended rules,
// so that nothing has to be installed beside this file.

import { createRequire } from "node:module";

const { configs } = createRequire(process.argv[1])("@eslint/js");
const browser = ["Blob", "Event", "FocusEvent", "Image", "KeyboardEvent", "PointerEvent", "URL", "clearTimeout", "document",
  "location", "navigator", "sessionStorage", "setTimeout", "window"];

export default [
  configs.recommended,
  {
    languageOptions: { sourceType: "module", ecmaVersion: 2022,
      globals: Object.fromEntries(browser.map((name) => [name, "readonly"])) },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: { "no-var": "error", "prefer-const": "error", eqeqeq: "error", "no-shadow": "error", "no-implicit-globals": "error",
      "no-use-before-define": ["error", { functions: false, classes: false }], "max-len": ["error", { code: 140 }],
      "no-throw-literal": "error", "no-unused-expressions": "error", semi: "error" },
  },
];
