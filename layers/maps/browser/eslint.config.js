// Rules for the page's code and its unit tests.  Without a shared set, they need no package but eslint.
const names = (kind, text) => Object.fromEntries(text.split(" ").map((name) => [name, kind]));

const rules = Object.fromEntries([
  "array-callback-return", "constructor-super", "eqeqeq", "for-direction", "getter-return",
  "no-async-promise-executor", "no-class-assign", "no-compare-neg-zero", "no-cond-assign", "no-const-assign",
  "no-constant-binary-expression", "no-constant-condition", "no-control-regex", "no-dupe-args", "no-dupe-class-members",
  "no-dupe-else-if", "no-dupe-keys", "no-duplicate-case", "no-duplicate-imports", "no-empty", "no-eval", "no-fallthrough",
  "no-func-assign", "no-implied-eval", "no-import-assign", "no-loss-of-precision", "no-new-func", "no-param-reassign",
  "no-redeclare", "no-self-assign", "no-self-compare", "no-shadow-restricted-names", "no-sparse-arrays",
  "no-template-curly-in-string", "no-this-before-super", "no-undef", "no-unreachable", "no-unsafe-finally",
  "no-unsafe-negation", "no-unused-private-class-members", "no-unused-vars", "no-useless-catch", "no-useless-escape",
  "no-var", "object-shorthand", "prefer-const", "use-isnan", "valid-typeof",
].map((name) => [name, "error"]));

const refused = (pairs) => ["error", ...pairs.map(([selector, message]) => ({ selector, message }))];

const everywhere = [
  // text may come from a file, and the page's policy refuses styles and handlers in markup
  ["MemberExpression[property.name=/^(innerHTML|outerHTML|insertAdjacentHTML|srcdoc)$/]", "Set text with textContent."],
  ["CallExpression[callee.property.name='setAttribute'][arguments.0.value='style']", "Set properties of `style`."],
];

// In the page all modules share one scope: their heads and their lists of exports are cut off (`page.py`).
const modules = [
  ["ImportDeclaration > :matches(ImportDefaultSpecifier, ImportNamespaceSpecifier)", "Import names in braces."],
  ["ExportNamedDeclaration[declaration], ExportDefaultDeclaration, ExportAllDeclaration", "Export in one list at the end."],
  ["Program > :not(ImportDeclaration) ~ ImportDeclaration", "Import before anything else."],
  ["AssignmentExpression[left.object.name='state']", "Change what is shared with state.set()."],
];

const sameNames = {
  create: (context) => ({
    "ImportSpecifier, ExportSpecifier": (node) => {
      const [from, to] = node.imported ? [node.imported, node.local] : [node.local, node.exported];
      if (from.name !== to.name) context.report({ node, message: "Keep the name as it is: modules share one scope." });
    },
  }),
};

const globals = names(
  "readonly",
  "L atob document window navigator localStorage performance addEventListener matchMedia requestAnimationFrame setTimeout"
  + " setInterval clearInterval ResizeObserver DecompressionStream Blob Path2D Response URL globalThis",
);
const languageOptions = { ecmaVersion: 2022, sourceType: "module", globals };

export default [
  {
    files: ["**/browser/**/*.mjs"],
    languageOptions,
    rules: { ...rules, "no-restricted-syntax": refused(everywhere) },
  },
  {
    files: ["**/browser/**/*.js"],
    ignores: ["**/eslint.config.js"],
    languageOptions,
    plugins: { own: { rules: { "same-names": sameNames } } },
    rules: { ...rules, "own/same-names": "error", "no-restricted-syntax": refused([...everywhere, ...modules]) },
  },
];
