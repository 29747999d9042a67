// SPDX-License-Identifier: MIT
// Workbooks of spreadsheets, opened and written. What their cells mean, the model says: it gets what stands in the XML.
import { strToU8, unzipSync, zipSync } from "../third_party/fflate/browser.js";

const mostUnpacked = 20e6; // bytes of XML: some hundred thousand cells, which a phone still takes
const mostParts = 2000;
const zipMark = "PK\u0003\u0004";

const isXml = (name) => /\.(xml|rels)$/.test(name) && !/^(docProps|xl\/(theme|drawings|charts|media))\//.test(name);

/** What is heard of a part's XML, in its order: [name, attribute, value, …] where an element begins, 0 where it ends, and texts. */
function heardOf(text) {
  if (/<!DOCTYPE/i.test(text)) return { fault: "it has a document type, which no spreadsheet writes" };
  const tree = new DOMParser().parseFromString(text, "application/xml");
  if (tree.getElementsByTagName("parsererror").length > 0) return { fault: "its XML is damaged" };
  const heard = [];
  let node = tree.documentElement;
  while (node) {
    if (node.nodeType === Node.ELEMENT_NODE) {
      heard.push([node.localName, ...[...node.attributes].flatMap((a) => [a.localName, a.value])]);
      if (node.firstChild) {
        node = node.firstChild;
        continue;
      }
      heard.push(0);
    } else if (node.nodeType === Node.TEXT_NODE || node.nodeType === Node.CDATA_SECTION_NODE) {
      heard.push(node.data);
    }
    while (node && !node.nextSibling) {
      node = node.parentNode;
      if (node === tree) return heard;
      heard.push(0);
    }
    node = node.nextSibling;
  }
  return heard;
}

/** The parts of an archive, or what is wrong with it. A file may say anything of its size; no more than what it says is unpacked. */
function partsOf(bytes) {
  const parts = {};
  let unpacked = 0, count = 0;
  const takes = (file) => {
    count += 1;
    if (!isXml(file.name) && file.name !== "mimetype") {
      if (file.name === "xl/workbook.bin") parts[file.name] = "";
      return false;
    }
    unpacked += file.originalSize;
    if (unpacked > mostUnpacked || count > mostParts) throw new RangeError(`the workbook unpacks to more than ${mostUnpacked / 1e6} MB, which this page does not take; the program does`);
    return true;
  };
  try {
    const text = new TextDecoder();
    for (const [name, content] of Object.entries(unzipSync(bytes, { filter: takes })))
      parts[name] = name === "mimetype" ? text.decode(content.subarray(0, 200)) : heardOf(text.decode(content));
  } catch (error) {
    if (error instanceof RangeError) return { fault: error.message, is_too_large: true };
    return { fault: `the workbook cannot be unpacked: ${error.message}` };
  }
  return { parts };
}

/** A file as the model takes it: {name, text}; of a workbook the text is what stands in it. */
export async function fileFor(file) {
  const beginning = new Uint8Array(await file.slice(0, 4).arrayBuffer());
  const begins = (...bytes) => bytes.every((b, i) => beginning[i] === b);
  const opened = (found) => ({ name: file.name, text: zipMark + JSON.stringify(found) });
  if (begins(0xd0, 0xcf, 0x11, 0xe0)) return opened({ fault: "this is a workbook of an old kind (xls), or one with a password" });
  if (begins(0x50, 0x4b, 0x03, 0x04)) return opened(partsOf(new Uint8Array(await file.arrayBuffer())));
  return { name: file.name, text: await file.text() };
}

/** Whether a file that fileFor gave is a workbook. */
export const isOpenedWorkbook = (file) => file.text.startsWith(zipMark);

// ---- written ----

const marks = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };
// XML has no room for control characters, and none of them is seen in a sheet
const escaped = (text) => text.replace(/[&<>"]/g, (c) => marks[c]).replace(/[\u0000-\u001f\ufffe\uffff]/g, " ");

const head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
const main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const styles = { plain: 0, date: 1, head: 2 };

const textCell = (text, style = styles.plain) => (text === "" ? "<c/>" : `<c t="inlineStr" s="${style}"><is><t xml:space="preserve">${escaped(text)}</t></is></c>`);

/** Numbers and dates stand as such, everything else as text, so that nothing in it is ever a formula. */
function cell(text, column) {
  if (column.is_number && /^-?\d+(\.\d+)?(e[-+]?\d+)?$/i.test(text)) return `<c><v>${text}</v></c>`;
  if (column.name === "date" && /^\d{4}-\d\d-\d\d$/.test(text)) {
    const day = (Date.parse(`${text}T00:00:00Z`) - Date.UTC(1899, 11, 30)) / 864e5;
    if (day >= 61) return `<c s="${styles.date}"><v>${day}</v></c>`; // before March 1900 spreadsheets count differently
  }
  return textCell(text);
}

const sheet = (rows, widths = []) => `${head}<worksheet xmlns="${main}">` +
  (widths.length > 0 ? `<cols>${widths.map((w, i) => `<col min="${i + 1}" max="${i + 1}" width="${w}" customWidth="1"/>`).join("")}</cols>` : "") +
  `<sheetData>${rows.map((cells) => `<row>${cells.join("")}</row>`).join("")}</sheetData></worksheet>`;

/** An xlsx workbook as bytes: a sheet of the rows, {column: text}, and one that says what each column is. */
export function workbookOf(columns, rows) {
  const heads = (names) => names.map((name) => textCell(name, styles.head));
  const readings = sheet([heads(columns.map((c) => c.name)), ...rows.map((row) => columns.map((c) => cell(row[c.name] ?? "", c)))]);
  const explained = sheet([heads(["name", "in", "what it is"]), ...columns.map((c) => [c.name, c.unit, c.says].map((text) => textCell(text)))], [20, 12, 80]);
  const part = (name, kind) => `<Override PartName="/xl/${name}.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.${kind}+xml"/>`;
  const relation = (id, kind, target) => `<Relationship Id="rId${id}" Type="${office}/${kind}" Target="${target}"/>`;
  const relations = (...all) => `${head}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">${all.join("")}</Relationships>`;
  const parts = {
    "[Content_Types].xml": `${head}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
      `<Default Extension="xml" ContentType="application/xml"/>${part("workbook", "sheet.main")}${part("styles", "styles")}${part("worksheets/sheet1", "worksheet")}${part("worksheets/sheet2", "worksheet")}</Types>`,
    "_rels/.rels": relations(relation(1, "officeDocument", "xl/workbook.xml")),
    "xl/workbook.xml": `${head}<workbook xmlns="${main}" xmlns:r="${office}"><sheets><sheet name="readings" sheetId="1" r:id="rId1"/><sheet name="columns" sheetId="2" r:id="rId2"/></sheets></workbook>`,
    "xl/_rels/workbook.xml.rels": relations(relation(1, "worksheet", "worksheets/sheet1.xml"), relation(2, "worksheet", "worksheets/sheet2.xml"), relation(3, "styles", "styles.xml")),
    "xl/styles.xml": `${head}<styleSheet xmlns="${main}"><numFmts count="1"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/></numFmts><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><b/><sz val="11"/><name val="Calibri"/></font></fonts>` +
      `<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>` +
      `<cellXfs count="3"><xf/><xf numFmtId="164" applyNumberFormat="1"/><xf fontId="1" applyFont="1"/></cellXfs></styleSheet>`,
    "xl/worksheets/sheet1.xml": readings,
    "xl/worksheets/sheet2.xml": explained,
  };
  return zipSync(Object.fromEntries(Object.entries(parts).map(([name, text]) => [name, strToU8(text)])), { mtime: new Date(1980, 0, 1) });
}
