// Asks a YAML language server, as an editor does, about texts under one schema.
//
// Standard input: {schema, texts: {name: text}, at: {name: [line, character]}}.
// Standard output: {wrong: {name: [message]}, offered: {name: [label]}}.

const { createRequire } = require("node:module");
const load = createRequire(`${process.argv[2]}/`);
const { getLanguageService } = load("yaml-language-server");
const { TextDocument } = load("vscode-languageserver-textdocument");

async function main(asked) {
  const uri = "file:///schema.json";
  const server = getLanguageService({
    schemaRequestService: async () => JSON.stringify(asked.schema),
    workspaceContext: { resolveRelativePath: (path) => path },
  });
  server.configure({
    validate: true, completion: true, hover: true, yamlVersion: "1.2",
    schemas: [{ uri, fileMatch: ["*"], schema: asked.schema }],
  });
  const document = (name, text) =>
    TextDocument.create(`file:///${encodeURI(name)}`, "yaml", 1, text);
  const wrong = {}, offered = {};
  for (const [name, text] of Object.entries(asked.texts)) {
    const found = await server.doValidation(document(name, text), false);
    wrong[name] = found.map((one) => `${one.range.start.line + 1}: ${one.message}`);
  }
  for (const [name, [line, character]] of Object.entries(asked.at)) {
    const found = await server.doComplete(
      document(name, asked.texts[name]), { line, character }, false);
    offered[name] = found.items.map((item) => item.label);
  }
  process.stdout.write(JSON.stringify({ wrong, offered }));
}

const parts = [];
process.stdin.on("data", (part) => parts.push(part));
process.stdin.on("end", () => main(JSON.parse(Buffer.concat(parts).toString())));
