// Writes points.csv: positions converted by programs that share no code with GeographicLib.
//   eastings and northings: PROJ 9.1.1 (`proj`, package proj-bin; +proj=utm is the Poder and
//     Engsager transverse Mercator, +proj=ups its polar stereographic)
//   zone, band and square letters, -80 to 84 degrees: npm package mgrs 2.2.0
//   square letters of the poles: the scheme of NGA.STND.0037 (from memory), written out below
// A point whose easting or northing lies within 2 cm of a whole metre is left out, since either
// program may then be right about the last digit.
// usage: in a folder with the package installed: node make_points.mjs >points.csv
import { createRequire } from 'node:module';
import { execFileSync } from 'node:child_process';
import { pathToFileURL } from 'node:url';
const require = createRequire(pathToFileURL(process.cwd() + '/'));
const mgrs = require('mgrs');

// UPS squares: the zone letter tells the half; columns leave out D E I M N O V W, rows I and O.
const rows = 'ABCDEFGHJKLMNPQRSTUVWXYZ';
const polarReference = (south, e, n) => {
    const west = e < 2000000;
    const zone = south ? (west ? 'A' : 'B') : west ? 'Y' : 'Z';
    const columns = west ? (south ? 'JKLPQRSTUXYZ' : 'RSTUXYZ')
                         : (south ? 'ABCFGHJKLPQR' : 'ABCFGHJ');
    const first = west ? (south ? 800000 : 1300000) : 2000000;
    const column = columns[Math.floor((e - first) / 100000)];
    const row = rows[Math.floor((n - (south ? 800000 : 1300000)) / 100000)];
    const five = x => String(Math.floor(x) % 100000).padStart(5, '0');
    return zone + column + row + five(e) + five(n);
};

let state = 20261125n; // a fixed linear congruential generator, so that the file can be made again
const random = () => {
    state = (state * 6364136223846793005n + 1442695040888963407n) & 0xffffffffffffffffn;
    return Number(state >> 11n) / 2 ** 53;
};
const points = [];
const add = (lat, lon) => points.push([Math.round(lat * 1e6), Math.round(lon * 1e6)]);
const scatter = (count, south, north, west, east) => {
    for (let i = 0; i < count; i++)
        add(south + random() * (north - south), west + random() * (east - west));
};
scatter(330, -80, 84, -180, 180);
scatter(60, 27.5, 28.8, 86, 88);   // the country of the rehearsal
scatter(50, 55.5, 64.5, -1, 13);   // western Norway: zone 32 reaches west
scatter(70, 71.5, 84, -1, 43);     // Svalbard: zones 31, 33, 35, 37 only
scatter(60, 84.000001, 90, -180, 180);
scatter(60, -90, -80.000001, -180, 180);
[[28.123456, 86.543217], [27.988, 86.92533], [0.000001, 0.000001], [-0.000001, 0.000001],
 [84.000001, 12], [83.999999, 12], [-80.000001, 12], [-79.999999, 12], [10, 179.999999],
 [10, -179.999999], [55.999999, 4], [56.000001, 4], [63.999999, 4], [64.000001, 4],
 [60, 2.999999], [60, 3.000001], [71.999999, 8], [72.000001, 8.999999], [75, 9.000001],
 [75, 20.999999], [75, 21.000001], [75, 32.999999], [75, 33.000001], [75, 41.999999],
 [75, 42.000001]].forEach(([lat, lon]) => add(lat, lon));

const project = (args, lat, lon) =>
    execFileSync('proj', ['-f', '%.4f', ...args, '+ellps=WGS84'], { input: `${lon} ${lat}\n` })
        .toString().trim().split(/\s+/).map(Number);
const edge = x => Math.abs(x - Math.round(x)) < 0.02;
console.log('# lat_e6,lon_e6,easting cm,northing cm,grid reference; made by make_points.mjs');
console.log('# PROJ 9.1.1; npm mgrs 2.2.0');
for (const [lat6, lon6] of points) {
    const lat = lat6 / 1e6, lon = lon6 / 1e6;
    const far = lat >= 84 || lat < -80;
    const inner = far ? '' : mgrs.forward([lon, lat], 5).padStart(15, '0');
    const args = far ? ['+proj=ups'] : ['+proj=utm', `+zone=${parseInt(inner, 10)}`];
    if (lat < 0) args.push('+south');
    const [e, n] = project(args, lat, lon);
    if (edge(e) || edge(n)) continue;
    const grid = far ? polarReference(lat < 0, e, n) : inner;
    console.log([lat6, lon6, Math.round(e * 100), Math.round(n * 100), grid]
        .join(','));
}
